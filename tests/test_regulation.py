"""Levers and pedals against rises put in by hand."""

from dataclasses import replace

import pytest

from analyzer.changes import compare
from analyzer.regulation import regulate
from tests.survey_moves import NOT_HEARD, moved, plain, with_rows

RISES = {"C3": 88.0, "D3": 113.0, "F3": 3.0, "G3": 100.5}


def engaged(survey):
    return moved(survey, lambda i, row: row.cents + RISES.get(row.string, 100.0))


def regulated(before, after, *, settled=True):
    (pair,) = compare((before, after))
    found = regulate(before, after, pair, settled=settled)
    return found, {row.string: row for row in found.strings}


def test_each_rise_is_judged_against_a_semitone():
    before = plain()
    found, rows = regulated(before, engaged(before))
    assert found.judged
    assert rows["C3"].rise_cents == pytest.approx(88.0)
    assert rows["C3"].off_cents == pytest.approx(-12.0)
    words = {"C3": "too little", "D3": "too much", "F3": "not raised", "G3": "as it should", "A4": "as it should"}
    assert {name: rows[name].raising for name in words} == words


def test_without_a_word_that_the_harp_has_settled_nothing_is_judged_and_the_figures_stand():
    found, rows = regulated(plain(), engaged(plain()), settled=False)
    assert not found.judged
    assert "--settled" in found.why_not
    assert rows["D3"].raising == "not judged"
    assert rows["D3"].rise_cents == pytest.approx(113.0)


def test_a_slack_harp_is_not_judged_whatever_is_said():
    slack = moved(plain(), lambda i, row: -90.0)
    found, _ = regulated(slack, engaged(slack))
    assert "let it settle" in found.why_not


def test_only_what_was_moved_is_judged_where_the_tunings_say_so():
    before = plain()
    after = engaged(before)
    targets = tuple(
        replace(t, raised_semitones=1, target_hz=t.target_hz * 2 ** (98.0 / 1200)) if t.string[0] == "C" else t
        for t in before.tuning.targets
    )
    after = replace(after, tuning=replace(after.tuning, targets=targets))
    _, rows = regulated(before, after)
    assert rows["D3"].raising == ""
    assert rows["C4"].should_cents == pytest.approx(98.0)  # the temperament's own semitone
    assert rows["C4"].off_cents == pytest.approx(2.0)


def test_a_wide_interval_is_no_judgement_and_a_string_not_heard_has_none():
    before = with_rows(plain(), {"A4": {"cents_u95": 9.0, "partials": ()}, "B4": NOT_HEARD})
    _, rows = regulated(before, engaged(plain()))
    assert rows["A4"].raising == "not judged"
    assert rows["B4"].rise_cents is None
    assert rows["B4"].raising == "not judged"


def test_a_string_that_turns_false_when_engaged_is_said_to_buzz():
    after = with_rows(engaged(plain()), {"A4": {"verdict": "false"}})
    _, rows = regulated(plain(), after)
    assert rows["A4"].buzzes is True
    assert rows["G4"].buzzes is False


def test_a_pedal_moved_back_that_lets_its_string_fall_too_little_raises_too_little():
    before = plain()
    falls = {"C3": -70.0, "C4": -130.0, "C5": -100.0}
    after = moved(before, lambda i, row: row.cents + falls.get(row.string, 0.0))
    targets = tuple(
        replace(t, raised_semitones=-1, target_hz=t.target_hz * 2 ** (-100.0 / 1200)) if t.string[0] == "C" else t
        for t in before.tuning.targets
    )
    _, rows = regulated(before, replace(after, tuning=replace(after.tuning, targets=targets)))
    words = {"C3": "too little", "C4": "too much", "C5": "as it should"}
    assert {name: rows[name].raising for name in words} == words
    assert rows["C3"].off_cents == pytest.approx(30.0)  # -70 less -100


def test_whether_a_string_sounds_worse_engaged_is_open_where_it_was_not_judged_open():
    before = with_rows(plain(), {"C4": {"verdict": "cannot judge", "dull": None, "decay_s": None}})
    after = with_rows(engaged(plain()), {"C4": {"verdict": "false"}, "D4": {"verdict": "false"}})
    _, rows = regulated(before, after)
    assert rows["C4"].buzzes is None
    assert rows["D4"].buzzes is True
