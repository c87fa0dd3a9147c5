"""Probabilities of dullness mean what they say, and both ways to lose more are found."""

import numpy as np
import pytest

from analyzer.dulling import slowness, weigh
from analyzer.settings import ConditionSettings
from analyzer.words import METHOD_TEXTS

SETTINGS = ConditionSettings()
LOG_RATE = np.log(1 + 0.5 * np.arange(8))
LEVEL_DB = -4.0 * np.arange(8)


def judged(error, covariance, slow):
    """(probability, shift) of one string."""
    found = weigh(error[None], np.linalg.inv(covariance)[None], slow[None], SETTINGS.base_rate, SETTINGS)
    return float(found.probability[0]), found.shift[0]


def drawn(rng):
    """(dull or not, departures, their covariance, slowness) of a string as the judgement supposes strings to be."""
    covariance = 0.3**2 * np.eye(8) + 0.08**2
    error = rng.multivariate_normal(np.zeros(8), covariance)
    slow = slowness(LOG_RATE[None], LEVEL_DB[None], SETTINGS.most_slow)[0]
    dull = rng.random() < SETTINGS.base_rate
    if dull:
        more = np.exp(rng.uniform(np.log(SETTINGS.dull_least), np.log(SETTINGS.dull_most)))
        constant = rng.random() < SETTINGS.constant_share
        error = error + (np.log1p((more - 1) * slow) if constant else np.log(more))
    elif rng.random() < SETTINGS.stray:
        error = error + rng.laplace(0, SETTINGS.stray_scale)
    return dull, error, covariance, slow


def test_of_strings_called_dull_with_a_probability_that_share_is():
    """A proper calibration: within three standard errors of a binomial in every bin."""
    rng = np.random.default_rng(1)
    rows = [drawn(rng) for _ in range(4000)]
    stated = np.array([judged(*row[1:])[0] for row in rows])
    dull = np.array([row[0] for row in rows])
    for low, high in ((0.0, 0.05), (0.05, 0.2), (0.2, 0.5), (0.5, 0.9), (0.9, 1.0)):
        inside = (stated >= low) & (stated < high)
        mean = stated[inside].mean()
        assert inside.sum() > 30
        assert abs(dull[inside].mean() - mean) < 3 * np.sqrt(mean * (1 - mean) / inside.sum()) + 0.01


def test_the_same_loss_in_all_partials_shows_in_the_slow_ones():
    slow = slowness(LOG_RATE[None], LEVEL_DB[None], 10.0)[0]
    power = 10 ** (LEVEL_DB / 10)
    assert slow * np.exp(LOG_RATE) == pytest.approx(np.full(8, power @ np.exp(LOG_RATE) / power.sum()))
    covariance = 0.25**2 * np.eye(8)
    constant = np.log1p(slow)
    probability, shift = judged(constant, covariance, slow)
    blind, _ = judged(np.full(8, constant.mean()), covariance, slow)
    assert probability > 0.5
    assert shift[0] > shift[-1]
    assert probability > 1 - 2 * (1 - blind)


def test_what_rings_longer_is_not_dull_and_its_neighbours_are_told():
    probability, shift = judged(np.full(8, -0.7), 0.2**2 * np.eye(8), np.ones(8))
    assert probability < 0.01
    assert shift == pytest.approx(np.full(8, -0.7), abs=0.1)
    _, unsure = judged(np.full(8, -0.1), 0.2**2 * np.eye(8), np.ones(8))
    assert np.abs(unsure).max() < 0.05


def test_partials_that_are_not_there_change_nothing():
    """A row filled up to the length of the longest is judged as it is alone."""
    rng = np.random.default_rng(2)
    _, error, covariance, slow = drawn(rng)
    filled = np.eye(11)
    filled[:8, :8] = np.linalg.inv(covariance)
    found = weigh(np.pad(error, (0, 3))[None], filled[None], np.pad(slow, (0, 3))[None], 0.15, SETTINGS)
    alone = weigh(error[None], filled[None, :8, :8], slow[None], 0.15, SETTINGS)
    assert found.probability == pytest.approx(alone.probability)
    assert found.log_likelihood == pytest.approx(alone.log_likelihood)
    assert found.shift[0] == pytest.approx(np.pad(alone.shift[0], (0, 3)))
    assert found.shift_covariance[0, 8:].max() == 0
    level_db = np.pad(LEVEL_DB, (0, 3), constant_values=-np.inf)[None]
    short = slowness(LOG_RATE[None], LEVEL_DB[None], 10.0)[0]
    assert slowness(np.pad(LOG_RATE, (0, 3))[None], level_db, 10.0)[0] == pytest.approx(np.pad(short, (0, 3)))


def test_the_report_states_the_share_taken_for_granted():
    assert round(1 / SETTINGS.base_rate) == 5
    assert any("one string in five" in text for text in METHOD_TEXTS)
