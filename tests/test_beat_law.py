"""What the partials of one string say of each other's beats: nothing where they disagree, much where they agree."""

from dataclasses import replace

import numpy as np
import pytest

from analyzer.beat_law import weighed
from analyzer.settings import FalseSettings

SETTINGS = FalseSettings()
HZ = (110.0, 220.0, 330.0, 440.0)


def test_partials_that_follow_the_law_without_doubt_are_averaged_by_their_weights():
    """With no strays and no scatter the splits are readings of one quantity: weighted mean (JCGM 100, H.5.2.5)."""
    s = replace(SETTINGS, law_share=1 - 1e-12, law_scatters=(1e-6, 2e-6), law_steps=201)
    rates_hz, u95_hz = np.array([0.52, 1.01, 1.44, 2.02]), np.array([0.06, 0.04, 0.2, 0.05])
    got_hz, got_u95_hz = weighed(HZ, rates_hz, u95_hz, s)
    weight = (np.array(HZ) / u95_hz) ** 2
    split = np.sum(weight * rates_hz / HZ) / weight.sum()
    assert got_hz == pytest.approx(split * np.array(HZ), rel=1e-4)
    assert got_u95_hz == pytest.approx(np.array(HZ) / np.sqrt(weight.sum()), rel=1e-3)


def test_a_thin_reading_is_made_surer_by_sharp_ones_that_agree():
    got_hz, got_u95_hz = weighed(HZ, (0.5, 1.0, 1.5, 2.2), (0.01, 0.01, 0.02, 0.4), SETTINGS)
    assert got_hz[3] == pytest.approx(2.0, abs=0.05)
    assert got_u95_hz[3] < 0.5 * 0.4


def test_beats_that_have_nothing_to_do_with_each_other_stay_as_they_were():
    rates_hz, u95_hz = (0.5, 2.7, 0.8, 5.1), (0.02, 0.03, 0.02, 0.05)
    got_hz, got_u95_hz = weighed(HZ, rates_hz, u95_hz, SETTINGS)
    assert got_hz == pytest.approx(rates_hz, abs=0.005)
    assert got_u95_hz == pytest.approx(u95_hz, rel=0.1)


def test_one_stray_neither_moves_nor_is_moved():
    got_hz, got_u95_hz = weighed(HZ, (0.5, 1.0, 1.5, 3.1), (0.02, 0.02, 0.02, 0.1), SETTINGS)
    assert got_hz == pytest.approx((0.5, 1.0, 1.5, 3.1), abs=0.01)
    assert got_u95_hz[3] > 0.08


def test_a_partial_alone_stays_as_it_was():
    got_hz, got_u95_hz = weighed((110.0,), (0.5,), (0.3,), SETTINGS)
    assert (got_hz.tolist(), got_u95_hz.tolist()) == ([0.5], [0.3])


@pytest.mark.parametrize("scatter", [0.0, 0.03, 0.1, 0.7])
def test_intervals_hold_the_truth_whatever_the_splits_scatter_by(scatter):
    """2,000 partials read with Gaussian errors as large as stated: 95 % of the intervals hold, within 3 points."""
    rng = np.random.default_rng(5)
    held = []
    for _ in range(500):
        truth_hz = rng.uniform(0.3, 1.5) * np.array(HZ) / HZ[0] * np.exp(scatter * rng.standard_normal(4))
        deviation_hz = np.exp(rng.uniform(np.log(0.005), np.log(0.1), 4))
        got_hz, u95_hz = weighed(
            HZ, truth_hz + deviation_hz * rng.standard_normal(4), SETTINGS.coverage * deviation_hz, SETTINGS
        )
        held += (np.abs(got_hz - truth_hz) <= u95_hz).tolist()
    assert np.mean(held) == pytest.approx(0.95, abs=0.03)
