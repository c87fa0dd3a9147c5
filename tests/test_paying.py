"""What whoever pays is told, on harps where it is plain."""

from dataclasses import replace

import pytest

from analyzer import paying_words, words
from analyzer.changes import compare
from analyzer.paying import Rates, for_payer, issue_and_return
from analyzer.plan import preview
from analyzer.restating import restated
from analyzer.speech import Manner, speaking
from tests.example_survey import NOT_HEARD as NOT_HEARD_NAMES
from tests.survey_moves import NOT_HEARD, moved, plain, with_rows


def complete():
    """Every string heard and sound."""
    survey = plain()
    heard = next(row for row in survey.strings if row.status == "heard")
    rows = tuple(
        replace(heard, string=r.string, note=r.note, target_hz=r.target_hz) if r.string in NOT_HEARD_NAMES else r
        for r in survey.strings
    )
    return replace(survey, strings=rows)


def test_a_harp_in_tune_with_all_its_strings_is_playable():
    found = for_payer(complete(), Rates())
    assert (found.playable, found.why, found.visits_n, found.strings_n) == ("playable now", (), 1, 0)


def test_missing_strings_are_limits_and_slackness_or_a_tight_string_forbid():
    assert for_payer(plain(), Rates()).playable == "playable with limits"
    assert for_payer(moved(complete(), lambda i, _: -180.0), Rates()).playable == "do not play"
    tight = moved(complete(), lambda i, _: 130.0 if i == 9 else 0.0)
    found = for_payer(tight, Rates())
    assert found.playable == "do not play"
    assert "E3 stands far above" in found.why[0]


def test_a_figure_that_may_be_another_strings_is_no_string_that_may_break():
    high = moved(complete(), lambda i, _: 180.0 if i == 9 else 0.0)
    name = high.strings[9].string
    assert for_payer(high, Rates()).playable == "do not play"
    assert for_payer(with_rows(high, {name: {"status": "uncertain"}}), Rates()).playable != "do not play"


def test_a_harp_that_is_too_high_is_not_called_slack():
    why = " ".join(for_payer(moved(complete(), lambda i, _: 130.0), Rates()).why)
    assert "far above" in why
    assert "slack" not in why


def test_what_was_said_to_be_missing_is_not_said_to_be_unheard():
    said = {**NOT_HEARD, "remarks": (words.SAID_MISSING,)}
    found = for_payer(with_rows(complete(), {"F2": said, "G2": said, "C4": NOT_HEARD}), Rates())
    assert found.why == ("F2 and G2 are missing, as was said.", "C4 was not heard.")
    assert found.strings_n == 3


def test_single_strings_far_off_are_limits_of_a_harp_in_tune():
    off = {3: -60.0, 9: 94.0}
    found = for_payer(moved(complete(), lambda i, _: off.get(i, 0.0)), Rates())
    assert (found.playable, found.why) == ("playable with limits", ("F2 and E3 are more than half a semitone off.",))
    slack = for_payer(moved(complete(), lambda i, _: -180.0), Rates())
    assert not any("half a semitone off" in reason for reason in slack.why)


def test_cost_is_hours_visits_and_strings_by_the_owners_rates():
    found = for_payer(plain(), Rates(labour_per_hour=40.0, per_visit=10.0, per_string=6.0))
    assert found.strings_n == 3
    assert found.cost == pytest.approx(40.0 * found.hours + 10.0 * found.visits_n + 18.0)
    # by the settings: two visits of 20 min; 20 turns in the plan's pass, 34 strings set right after it and once more
    # when the new ones have stretched, at 1.5 min; three new strings at 15 min: 217 min, to quarters
    assert preview(plain()).turns_n == 20
    assert found.hours == pytest.approx(3.75)


def test_a_slack_harp_takes_as_many_visits_as_its_plan_has_passes():
    slack = moved(complete(), lambda i, _: -300.0)
    assert for_payer(slack, Rates()).visits_n == preview(slack).passes_n == 4


def test_a_string_of_which_it_is_open_whether_it_is_worn_is_a_span():
    rates = Rates(labour_per_hour=40.0, per_visit=10.0, per_string=6.0)
    worn = {"dull": True, "verdict": "dull"}
    survey = with_rows(plain(), {"D4": {**worn, "dull_probability": 0.64}, "G4": {**worn, "dull_probability": 0.97}})
    found = for_payer(survey, rates)
    assert (found.least.strings_n, found.strings_n) == (4, 5)
    assert found.least.cost < found.cost
    assert "4 to 5 strings to buy" in paying_words.work(found)
    assert for_payer(survey, rates, open_wear=frozenset({"G4"})).least.strings_n == 3
    assert for_payer(plain(), rates).least is None


def test_hours_and_sums_are_not_given_closer_than_they_are_known():
    found = for_payer(plain(), Rates(labour_per_hour=40.0, per_visit=10.0, per_string=6.0))
    assert (found.hours, found.cost) == (3.75, 188.0)
    assert "About 4 hours" in paying_words.work(found)
    assert "Together about 190 by" in paying_words.cost(found)


def test_no_rates_no_total():
    assert for_payer(plain(), Rates()).cost is None
    assert for_payer(plain(), Rates(labour_per_hour=40.0)).cost is None
    assert for_payer(complete(), Rates(labour_per_hour=40.0)).cost is not None


def test_wear_is_told_from_what_nobody_knows():
    after = with_rows(
        moved(plain(), lambda i, row: row.cents - (30.0 if row.string == "A4" else 0.0)),
        {
            "C4": NOT_HEARD,
            "D4": {"dull": True, "verdict": "dull", "decay_s": 0.3},
            "F4": {"dull": True, "verdict": "dull"},  # judged otherwise, of the same decay
            "E4": {"verdict": "false"},
            "G4": {"status": "uncertain"},
            "B4": {"decay_s": 0.2, "decay_u95_s": 0.01},  # not dull for its neighbours, but nothing like before
        },
    )
    (pair,) = compare((plain(), after))
    found = issue_and_return(pair)
    assert {one.string: one.cause for one in found} == {
        "C4": "cause not determined",
        "D4": "ordinary wear",
        "E4": "cause not determined",
        "G4": "cause not determined",
        "B4": "cause not determined",
        "A4": "settling and weather",
    }
    assert [one.string for one in found] == ["C4", "E4", "G4", "B4", "D4", "A4"]  # what has to be asked about first
    assert {one.string: one.what for one in found}["B4"].startswith("rings only ")


def test_a_string_that_fell_far_beyond_the_others_is_not_put_down_to_settling():
    after = moved(plain(), lambda i, row: row.cents - (430.0 if row.string == "A4" else 60.0))
    (pair,) = compare((plain(), after))
    causes = {one.string: one.cause for one in issue_and_return(pair)}
    assert causes.pop("A4") == "cause not determined"
    assert set(causes.values()) == {"settling and weather"}


def test_visits_for_a_string_an_octave_down_are_told_apart():
    slack = moved(complete(), lambda i, _: -1400.0 if i == 18 else -200.0)
    ahead = preview(slack)
    late_n = ahead.passes_n - ahead.most_up_n
    (said,) = [line for line in for_payer(slack, Rates()).basis if "furthest" in line]
    assert said.startswith(f"{late_n} of them are only for the furthest strings")
    assert not any("furthest" in line for line in for_payer(plain(), Rates()).basis)
    with speaking(Manner(language="de")):
        assert restated(said).text.startswith(f"{late_n} davon sind nur für die fernsten Saiten")
