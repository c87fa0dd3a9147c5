"""What is counted, against counts made by hand on a small harp."""

from dataclasses import replace

import pytest

from analyzer.digest import digest
from analyzer.settings import ReportSettings
from tests.example_survey import example_survey

SETTINGS = ReportSettings()


def harp(*cents):
    """A survey of as many strings as there are figures; None is a string not heard."""
    survey = example_survey()
    heard, missing = survey.strings[0], survey.strings[2]
    rows = (
        replace(missing, string=f"C{i}") if off is None else replace(heard, string=f"C{i}", cents=off)
        for i, off in enumerate(cents)
    )
    return replace(survey, strings=tuple(rows))


def names(rows):
    return [row.string for row in rows]


def test_flat_sharp_in_tune_octave_low_and_not_heard_are_told_apart():
    d = digest(harp(-40.0, -5.0, 5.0, 5.1, -1180.0, None), SETTINGS)
    assert names(d.flat) == ["C0"]
    assert names(d.in_tune) == ["C1", "C2"]
    assert names(d.sharp) == ["C3"]
    assert names(d.octave_low) == ["C4"]
    assert names(d.not_heard) == ["C5"]
    assert d.strings_n == 6


@pytest.mark.parametrize(("cents", "low"), [(-1049.9, 0), (-1050.0, 1), (-1350.0, 1), (-1350.1, 0)])
def test_the_octave_window_is_as_wide_as_the_settings_say(cents, low):
    assert len(digest(harp(cents), SETTINGS).octave_low) == low


def test_the_median_leaves_out_the_string_an_octave_low():
    d = digest(harp(-10.0, 30.0, -20.0, -1200.0), SETTINGS)
    assert d.median_abs_cents == 20.0
    assert d.flattest.cents == -20.0
    assert d.sharpest.cents == 30.0


def test_the_worst_third_is_named_only_when_it_is_clearly_worse():
    assert digest(harp(-90.0, -80.0, -20.0, -20.0, -10.0, -10.0), SETTINGS).worst_region == "bass"
    assert digest(harp(-10.0, -10.0, -20.0, -20.0, -80.0, -90.0), SETTINGS).worst_region == "treble"
    assert digest(harp(-20.0, -20.0, -20.0, -20.0, -22.0, -22.0), SETTINGS).worst_region is None
    assert digest(harp(None, None, -20.0, -20.0, -90.0, -90.0), SETTINGS).worst_region is None
    assert digest(harp(-4.0, -4.0, 0.1, 0.1, 0.1, 0.1), SETTINGS).worst_region is None


def test_a_harp_of_which_nothing_was_heard_has_no_figures():
    d = digest(harp(None, None, None), SETTINGS)
    assert (d.median_abs_cents, d.median_u95_cents, d.flattest, d.sharpest) == (None, None, None, None)


def test_a_string_that_may_be_another_is_neither_flat_nor_furthest():
    survey = harp(-40.0, -5.0, -90.0)
    unsure = replace(survey.strings[2], status="uncertain")
    d = digest(replace(survey, strings=(*survey.strings[:2], unsure)), SETTINGS)
    assert names(d.flat) == ["C0"]
    assert d.flattest.string == "C0"
    assert names(d.measured) == ["C0", "C1"]
    assert names(d.uncertain) == ["C2"]


def test_faults_of_a_recording_that_no_string_counts_from_are_not_counted():
    survey = example_survey()
    spoilt, clean = survey.recordings[0], replace(survey.recordings[0], findings=())
    assert digest(survey, SETTINGS).serious_n == 1
    again = tuple(replace(row, recording=None if row.recording is None else 1) for row in survey.strings)
    both = digest(replace(survey, recordings=(spoilt, clean), strings=again), SETTINGS)
    assert (both.serious_n, both.warnings_n) == (0, 0)
    part = (replace(again[0], recording=0), *again[1:])
    assert digest(replace(survey, recordings=(spoilt, clean), strings=part), SETTINGS).serious_n == 1
