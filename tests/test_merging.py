"""Strings recorded again take their place in the survey."""

from dataclasses import replace

import pytest

from analyzer.by_eye import SINGLE, Seen, look_list
from analyzer.errors import UnusableInput
from analyzer.merging import check_whole, merge
from analyzer.patterns import PATTERNS
from analyzer.restating import restated_error
from analyzer.speech import Manner, speaking
from analyzer.survey import Doubt
from tests.example_survey import example_survey
from tests.survey_moves import NOT_HEARD, moved, plain, with_rows


def later(names, cents=5.0, **values):
    survey = moved(plain(), lambda i, _: cents)
    gone = {row.string: NOT_HEARD for row in survey.strings if row.string not in names}
    survey = with_rows(survey, gone)
    return replace(survey, plucks=tuple(p for p in survey.plucks if p.string in names), **values)


def test_single_strings_are_no_harp_until_they_are_in_their_places():
    again = later(["C4", "D4"], said={"only": "C4,D4"})
    with pytest.raises(UnusableInput, match=r"^again: only single strings .*harp-survey reply") as refused:
        check_whole(again, "again")
    check_whole(merge(plain(), again), "answer")
    with speaking(Manner(language="de")):
        assert restated_error(str(refused.value)).startswith("again: dort wurden nur einzelne Saiten neu aufgenommen")


def test_what_was_heard_again_replaces_and_the_rest_stays():
    before = with_rows(plain(), {"C4": NOT_HEARD})
    both = merge(before, later({"C4", "D4"}))
    rows = {row.string: row for row in both.strings}
    assert (rows["C4"].cents, rows["D4"].cents) == (5.0, 5.0)
    assert rows["E4"] == next(row for row in before.strings if row.string == "E4")
    assert len(both.recordings) == 2
    assert both.recordings[rows["C4"].recording] == later({"C4"}).recordings[0]
    assert "Recorded again: C4, D4." in both.remarks


def test_every_string_heard_still_has_exactly_one_pluck_that_counts():
    both = merge(plain(), later({"C4", "D4"}))
    counted = [p.string for p in both.plucks if p.counted]
    assert sorted(counted) == sorted(row.string for row in both.strings if row.status != "not heard")
    for row in both.strings:
        if row.status != "not heard":
            (pluck,) = [p for p in both.plucks if p.counted and p.string == row.string]
            assert pluck.recording == row.recording


def test_an_uncertain_string_does_not_replace_a_sure_one():
    unsure = with_rows(later({"C4"}), {"C4": {"status": "uncertain"}})
    assert next(r for r in merge(plain(), unsure).strings if r.string == "C4").cents != 5.0


def test_a_doubt_that_the_later_recording_does_not_share_is_settled():
    doubtful = replace(plain(), doubts=example_survey().doubts)
    everything = {row.string for row in doubtful.strings}
    assert merge(doubtful, later(everything)).doubts == ()
    assert merge(doubtful, later(everything, doubts=doubtful.doubts)).doubts == doubtful.doubts


def test_a_doubt_of_the_later_recording_alone_is_not_lost():
    everything = {row.string for row in plain().strings}
    doubts = example_survey().doubts
    assert merge(plain(), later(everything, doubts=doubts)).doubts == doubts


def test_a_few_strings_recorded_again_settle_no_doubt_of_the_whole_harp():
    doubtful = replace(plain(), doubts=example_survey().doubts)
    assert merge(doubtful, later({"C4"})).doubts == doubtful.doubts


def test_another_harp_is_refused():
    with pytest.raises(UnusableInput, match="layouts"):
        merge(plain(), replace(plain(), strings=plain().strings[2:]))


def test_what_to_look_at_goes_by_the_recording_that_counts():
    def looked_at(survey, **flags):
        strings = [Seen(string=row.string, missing=row.status == "not heard", **flags) for row in survey.strings]
        return replace(survey, by_eye=look_list(survey.layout, strings))

    missing, dull = (what for flag, what in SINGLE if flag in ("missing", "dull"))
    before = looked_at(with_rows(plain(), {"C4": NOT_HEARD, "D4": NOT_HEARD}))
    both = {look.what: look.strings for look in merge(before, looked_at(later({"C4"}), dull=True)).by_eye}
    assert "D4" in both[missing]
    assert "C4" not in both[missing]  # it is heard now
    assert both[dull] == ("C4",)
    knots = next(strings for what, strings in both.items() if what.startswith("Knots"))
    assert ("C4" in knots, "D4" in knots) == (True, False)
    assert next(iter(both)) == missing


def test_the_reference_that_fits_is_that_of_the_strings_that_count():
    flat = replace(moved(plain(), lambda i, _: -30.0), a4_that_fits_hz=440.0 * 2 ** (-30.0 / 1200))
    again = later({row.string for row in plain().strings}, cents=-10.0)
    # all strings 10 cents below: A4 = 440·2^(−10/1200) Hz
    assert merge(flat, again).a4_that_fits_hz == pytest.approx(440.0 * 2 ** (-10.0 / 1200))


def test_a_remark_that_a_string_was_not_heard_goes_once_it_is():
    text = "You said that no string is missing, but {names} were not heard: passed over, or plucked too softly?"
    assert text in PATTERNS  # as `remarks` words it
    before = with_rows(plain(), {"C4": NOT_HEARD, "D4": NOT_HEARD})
    before = replace(before, remarks=(text.format(names="C4 and D4"), "Else."))
    one = merge(before, later({"C4"})).remarks[0]
    assert one == text.format(names="D4").replace("were", "was")
    assert merge(before, later({"C4", "D4"})).remarks[0] == "Else."
    passed_over = replace(later({"D4"}), remarks=(text.format(names="C4 and E4"),))  # E4 was heard the first time
    assert merge(before, passed_over).remarks[:2] == (text.format(names="C4").replace("were", "was"), "Else.")


def test_strings_held_against_other_notes_are_refused():
    tuning = plain().tuning
    lower = tuple(replace(t, target_hz=t.target_hz * 430 / 440) for t in tuning.targets)
    again = later({"C4"}, tuning=replace(tuning, a4_hz=430.0, targets=lower))
    with pytest.raises(UnusableInput, match="held against other notes"):
        merge(plain(), again)


def test_levers_put_off_and_recorded_again_settle_the_doubt_about_them_and_left_on_they_do_not():
    up = moved(plain(), lambda i, row: -20.0 + (98.0 if row.string in ("C4", "F4") else 0.0))
    doubt = Doubt(code="raised strings", sentence="C4 and F4 stand above.", strings=("C4", "F4"))
    assert merge(replace(up, doubts=(doubt,)), later({"C4", "F4"}, -20.0)).doubts == ()
    still = merge(replace(up, doubts=(doubt,)), later({"C4", "F4"}, 78.0))
    assert [d.strings for d in still.doubts] == [("C4", "F4")]
    one = merge(replace(up, doubts=(doubt,)), later({"C4"}, -20.0))
    assert [d.strings for d in one.doubts] == [("F4",)]
