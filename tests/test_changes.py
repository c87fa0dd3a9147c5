"""Before and after against changes put in by hand: sizes, intervals, and what must not be claimed."""

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from analyzer.change_remarks import NO_CHANGE
from analyzer.changes import New, _exp, compare
from analyzer.consensus import moved as moved_pitch
from analyzer.errors import UnusableInput
from analyzer.likeness import Own, own_changes
from analyzer.lineup import check_fit, in_order
from analyzer.notes import cents
from analyzer.settings import ChangeSettings
from analyzer.survey import PartialRow
from tests.survey_moves import NOT_HEARD, moved, plain, with_rows

SETTINGS = ChangeSettings()


def rows(before, after, **more):
    (pair,) = compare((before, after), **more)
    return {row.string: row for row in pair.strings}


def test_the_change_is_that_of_the_pitch_whatever_the_targets():
    before = plain()
    after = moved(before, lambda i, row: row.cents + 12.5)
    lower = replace(
        after, strings=tuple(replace(r, target_hz=r.target_hz * 0.5) for r in after.strings)
    )  # another target does not move the string
    for later in (after, lower):
        got = [row.change_cents for row in rows(before, later).values() if row.change_cents is not None]
        assert len(got) == 31
        assert got == pytest.approx([12.5] * 31, abs=1e-6)


def test_the_interval_joins_measurements_clocks_and_another_pluck():
    before = with_rows(plain(), {"C4": {"cents_u95": 3.0, "partials": ()}})
    after = with_rows(plain(), {"C4": {"cents_u95": 4.0, "partials": ()}})
    expected = math.sqrt(3**2 + 4**2 + 0.35**2 + 0.35**2 + SETTINGS.repluck_cents**2)  # JCGM 100, 5.1.2
    assert rows(before, after)["C4"].change_u95 == pytest.approx(expected)


def test_the_same_harp_twice_shows_no_change():
    row_of = rows(plain(), plain())
    heard = [row for row in row_of.values() if row.after_status == "heard"]
    assert {row.changed for row in heard} == {False}
    assert {row.effect for row in heard} == {NO_CHANGE}


def test_noise_within_the_intervals_is_called_a_change_about_as_often_as_promised():
    rng = np.random.default_rng(3)
    # a standard deviation that makes the joint interval hold 95 % (1.96 of them)
    sd = math.sqrt(1.0**2 + 1.0**2 + 2 * 0.35**2 + SETTINGS.repluck_cents**2) / 1.96
    claimed = []
    before = with_rows(plain(), {row.string: {"partials": ()} for row in plain().strings})
    for _ in range(30):
        after = moved(before, lambda i, row: row.cents + rng.normal(0, sd))
        claimed += [row.changed for row in rows(before, after).values() if row.changed is not None]
    assert np.mean(claimed) == pytest.approx(0.05, abs=0.02)  # 930 draws: two standard errors are 0.014


def test_a_string_not_heard_before_is_possibly_new_and_new_where_that_is_said():
    before = with_rows(plain(), {"C5": NOT_HEARD, "D5": NOT_HEARD})
    found = rows(before, plain(), new=(New(string="D5"), New(string="E5")))
    assert {name: row.new_string for name, row in found.items() if row.new_string} == {
        "C5": "possible",
        "D5": "stated",
        "E5": "stated",
    }
    assert found["C5"].change_cents is None
    assert found["C5"].changed is None


def test_a_new_string_counts_between_the_surveys_about_its_day():
    four = [replace(plain(), date=f"2026-03-0{day}") for day in (1, 3, 5, 7)]

    def where(*new):
        return [[row.string for row in pair.strings if row.new_string == "stated"] for pair in compare(four, new=new)]

    c5, d5 = New(string="C5", day=date(2026, 3, 4)), New(string="D5", day=date(2026, 3, 2))
    assert where(c5, d5) == [["D5"], ["C5"], []]
    assert where(New(string="C5", day=date(2026, 3, 3))) == [["C5"], [], []]  # on a survey's day: on by then
    silent = with_rows(four[1], {"C5": NOT_HEARD})  # …unless that survey did not hear it, and the next does
    assert (
        compare([four[0], silent, *four[2:]], new=[New(string="C5", day=date(2026, 3, 3))])[1]
        .strings[[row.string for row in silent.strings].index("C5")]
        .new_string
        == "stated"
    )
    assert where(New(string="C5")) == [[], [], ["C5"]]
    for day in (date(2026, 2, 1), date(2026, 4, 1)):
        with pytest.raises(UnusableInput, match="no two surveys lie before and after that day"):
            where(New(string="C5", day=day))


def test_a_string_that_is_gone_has_no_cause():
    found = rows(plain(), with_rows(plain(), {"C5": NOT_HEARD}))["C5"]
    assert found.effect == "gone"
    assert "cause not determined" in found.remarks[0]


def test_an_uncertain_string_is_never_said_to_have_changed_and_its_interval_reaches_the_other_reading():
    before = plain()
    after = moved(before, lambda i, row: row.cents + 50.0)
    other_hz = next(row.pitch_hz for row in after.strings if row.string == "C4")
    after = with_rows(after, {"D4": {"status": "uncertain"}})
    after = replace(
        after,
        plucks=tuple(
            replace(p, also_possible=(("D4", 0.3),), pitch_hz=other_hz) if p.string == "C4" and p.counted else p
            for p in after.plucks
        ),
    )
    found = rows(before, after)["D4"]
    assert found.changed is None
    assert found.change_u95 > 190  # C4 to D4 is 200 cents, the two were a few cents off


def test_another_judgement_is_no_wear_without_a_change_of_decay_that_can_be_shown():
    dull = {"dull": True, "verdict": "dull"}
    old = {row.string: row.decay_s for row in plain().strings}
    little = {"decay_s": 0.756 * old["G4"], "decay_u95_s": 0.7 * old["G4"]}  # as a walk found it: a factor of 2.5
    after = with_rows(plain(), {"G4": {**dull, **little}, "D4": {**dull, "decay_s": old["D4"] / 4}})
    found = rows(plain(), after)
    assert found["G4"].remarks == ("Judged dull now and not before: that it became duller cannot be shown.",)
    assert "ordinary wear" in found["D4"].remarks[-1]
    assert (found["G4"].effect, found["D4"].effect) == (NO_CHANGE, "worse")
    back = rows(after, plain())
    assert back["G4"].remarks == ("Judged dull before and not now: that it became less dull cannot be shown.",)
    assert not any("dull" in remark for remark in back["D4"].remarks)


def test_what_is_nearer_its_note_is_better_and_what_is_further_worse():
    before = moved(plain(), lambda i, row: -80.0 if i < 17 else 0.0)
    after = moved(plain(), lambda i, row: 0.0 if i < 17 else -80.0)
    found = [row for row in rows(before, after).values() if row.after_status == "heard"]
    assert [row.effect for row in found] == ["better"] * 15 + ["worse"] * 16


def test_a_string_drawn_far_above_its_note_is_not_better_for_having_been_further_below():
    before = moved(plain(), lambda i, row: -125.0)
    found = rows(before, moved(before, lambda i, row: 117.0 if row.string == "A6" else 5.0))
    assert found["A6"].effect == "worse"
    assert "Now far above its note: to be let down." in found["A6"].remarks
    assert found["G6"].effect == "better"
    unsure = with_rows(moved(before, lambda i, row: 117.0), {"A6": {"status": "uncertain"}})
    assert not any("to be let down" in said for said in rows(before, unsure)["A6"].remarks)  # perhaps another's pitch
    down = rows(moved(before, lambda i, _: 140.0), moved(before, lambda i, _: 120.0))  # on its way
    assert down["A6"].effect == "better"


def test_an_interval_that_says_nothing_is_a_number_all_the_same():
    assert math.isfinite(_exp(Own(value=0.0, u95=1000.0), "u95"))


def test_of_a_string_at_quite_another_pitch_the_ringing_is_not_compared():
    before = moved(plain(), lambda i, row: -1400.0 if row.string == "G4" else -200.0)
    old = {row.string: row.decay_s for row in before.strings}
    after = with_rows(moved(before, lambda i, row: 0.0), {"G4": {"decay_s": old["G4"] / 3, "decay_u95_s": 0.01}})
    found = rows(before, after)["G4"]
    assert found.decay_ratio is None
    assert "How long it rings is not compared at so different a pitch." in found.remarks
    assert not any(text.startswith("Rings") for text in found.remarks)


def test_partials_that_agree_overrule_a_pitch_that_was_read_off_one_of_them():
    before = next(row for row in plain().strings if row.string == "A5")
    after = next(row for row in moved(plain(), lambda i, row: row.cents + 60.0).strings if row.string == "A5")
    wrong = replace(after, pitch_hz=after.pitch_hz * 2 ** (-19 / 1200), cents_u95=12.0)
    found = moved_pitch(before, wrong, SETTINGS)
    assert found.change_cents == pytest.approx(60.0, abs=0.01)
    assert found.disagrees
    unlike = replace(
        wrong,
        partials=tuple(
            PartialRow(
                number=p.number, frequency_hz=p.frequency_hz * 2 ** (9 * p.number / 1200), level_db=-20, t60_s=None
            )
            for p in wrong.partials
        ),
    )
    assert moved_pitch(before, unlike, SETTINGS).change_cents == pytest.approx(41.0, abs=0.01)
    sure = replace(wrong, cents_u95=1.0)
    assert moved_pitch(before, sure, SETTINGS).change_cents == pytest.approx(41.0, abs=0.01)


def test_what_a_phone_does_to_all_strings_is_taken_out_of_their_decay():
    before = plain()
    after = with_rows(
        before,
        {
            row.string: {"decay_s": row.decay_s * (0.6 + 0.01 * i) * (0.4 if row.string == "G4" else 1.0)}
            for i, row in enumerate(before.strings)
            if row.decay_s
        },
    )
    found = rows(before, after)
    assert found["G4"].decay_ratio == pytest.approx(0.4, rel=0.05)
    shown = [
        name
        for name, row in found.items()
        if row.decay_ratio and abs(math.log(row.decay_ratio)) > math.log(row.decay_ratio_u95)
    ]
    assert shown == ["G4"]


def test_the_common_line_is_that_of_a_straight_line_with_outliers():
    truth = [0.3 + 0.02 * i for i in range(30)]
    values = [v + (1.5 if i in (4, 11, 25) else 0.0) for i, v in enumerate(truth)]
    found = own_changes(values, [0.1] * 30, least_n=8, neighbours_n=8, whole_share=0.2)
    assert [i for i, own in enumerate(found.own) if abs(own.value) > own.u95] == [4, 11, 25]
    assert found.own[4].value == pytest.approx(1.5, abs=1e-9)


def test_too_few_common_strings_are_not_compared():
    few = [0.1] * 7 + [None] * 20
    assert own_changes(few, [0.1] * 27, least_n=8, neighbours_n=8, whole_share=0.2).common is None


def test_a_phone_that_bends_the_bass_and_scatters_the_treble_makes_no_changes_and_hides_none_between():
    rng = np.random.default_rng(4)
    spread = np.array([0.08] * 6 + [0.03] * 18 + [0.2] * 10)  # as two recordings of one invented harp differ
    bend = [-0.6, -0.52, -0.44, -0.33, -0.2, -0.08, *[0.0] * 28]
    claimed = []
    for _ in range(40):
        values = list(bend + rng.normal(0, spread))
        values[15] -= math.log(2)  # damped twice as much
        found = own_changes(values, [0.05] * 34, least_n=8, neighbours_n=8, whole_share=0.2).own
        assert found[15].value < -found[15].u95
        claimed += [abs(own.value) > own.u95 for i, own in enumerate(found) if i != 15]
    assert np.mean(claimed) <= 0.05


def test_surveys_come_in_the_order_of_their_dates_and_undated_ones_stay():
    surveys = [replace(plain(), date=date) for date in ("2026-05-01", "", "2026-03-01", "2026-04-01T10:00")]
    assert in_order(surveys) == (2, 1, 3, 0)
    assert in_order([replace(plain(), date="")] * 3) == (0, 1, 2)
    with pytest.raises(UnusableInput, match="'spring'"):
        in_order([replace(plain(), date="spring")])


def test_other_strings_or_other_levers_are_refused_and_another_reference_is_said():
    survey = plain()
    with pytest.raises(UnusableInput, match="different layouts"):
        check_fit((survey, replace(survey, strings=survey.strings[1:])))
    raised = replace(
        survey.tuning, targets=tuple(replace(t, raised_semitones=1) for t in survey.tuning.targets), setting="levers on"
    )
    with pytest.raises(UnusableInput, match="--regulation"):
        check_fit((survey, replace(survey, tuning=raised)))
    assert check_fit((survey, survey)) == ()
    (remark,) = check_fit((survey, replace(survey, tuning=replace(survey.tuning, a4_hz=442.0))))
    assert "440 and 442 Hz" in remark


def test_load_shares_follow_the_square_of_frequency():
    found = rows(moved(plain(), lambda i, row: -100.0), moved(plain(), lambda i, row: 0.0))["C4"]
    assert found.before_load_share == pytest.approx(1 - 0.1091, abs=1e-4)  # −100 cents: −10.91 % (T2/T1 = (f2/f1)²)
    assert found.after_load_share == pytest.approx(1.0)
    assert cents(2.0, 1.0) == 1200
