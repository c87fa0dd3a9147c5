"""Retunings nobody named, on harps that creep by a stated law and were brought to their notes by hand."""

from dataclasses import replace

import numpy as np
import pytest

from analyzer.retuning import tunings
from analyzer.settings import SettlingSettings
from analyzer.tunings import Readings, stated, suspected

SETTINGS = SettlingSettings()
DAYS = np.array([0.0, 2.0, 5.0, 9.0, 14.0, 21.0])


def harp(retuned_before=(), *, seed=1, size=12.0, left=1.5):
    """Logarithmic creep, ln(1 + 2t); every string tuned to within `left` cents just after the survey before."""
    rng = np.random.default_rng(seed)
    n = 24
    fall = size * np.exp(rng.normal(0, 0.3, n))[:, None] * np.log1p(2 * DAYS) / np.log1p(2 * DAYS[-1])
    level = rng.normal(0, 3, n)
    cents = np.empty_like(fall)
    base = fall[:, 0]
    for m in range(len(DAYS)):
        if m in retuned_before:
            base, level = fall[:, m - 1], rng.normal(0, left, n)
        cents[:, m] = level - (fall[:, m] - base) + rng.normal(0, 0.4)  # weather
    noise = 0.8
    return Readings(
        strings=tuple(f"S{i}" for i in range(n)),
        days=DAYS,
        cents=cents + rng.normal(0, noise, fall.shape),
        u95_cents=np.full(fall.shape, 1.0),
        common_u95_cents=np.full(len(DAYS), 0.35),
    )


@pytest.mark.parametrize("before", [(), (2,), (2, 4)])
def test_the_retunings_of_a_harp_are_found_and_no_others(before):
    assert tuple(t.survey for t in tunings(harp(before), SETTINGS)) == before


def test_a_retuning_is_found_where_creep_took_back_what_it_gave():
    data = harp((1,), size=16.0)
    assert np.median(data.cents[:, 1] - data.cents[:, 0]) < 0  # no string need have risen
    assert [t.survey for t in tunings(data, SETTINGS)] == [1]


def test_weather_that_raises_the_whole_harp_is_no_retuning():
    data = harp()
    risen = data.cents.copy()
    risen[:, 3] += 5.0
    assert tunings(replace(data, cents=risen), SETTINGS) == ()


def test_a_retuning_stated_on_the_day_of_a_survey_falls_before_or_after_it_by_what_strings_show():
    data = harp((3,))
    assert [(t.survey, t.day) for t in stated(replace(data, retuned_days=(5.0,)))] == [(3, 5.0)]
    assert [(t.survey, t.day) for t in stated(replace(data, retuned_days=(9.0,)))] == [(3, 9.0)]
    assert [(t.survey, t.day) for t in stated(replace(data, retuned_days=(7.0,)))] == [(3, 7.0)]


def test_a_tuning_before_the_first_recording_or_after_the_last_is_none_between_them():
    assert stated(replace(harp(), retuned_days=(0.0, 21.0, 30.0))) == ()
    assert [t.survey for t in stated(replace(harp((1,), size=30.0), retuned_days=(0.0,)))] == [1]


def test_strings_that_are_missing_raise_no_suspicion():
    data = harp((3,))
    cents = data.cents.copy()
    cents[:, 5] = np.nan
    assert 5 not in suspected(replace(data, cents=cents), SETTINGS)
    assert suspected(data, SETTINGS)[0] == 3
