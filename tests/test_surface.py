"""Leaving every string out at once equals leaving each out in turn, and a smooth harp is recognised as one."""

import numpy as np
import pytest

from analyzer.settings import ConditionSettings
from analyzer.surface import Points, columns, departures

SETTINGS = ConditionSettings()


def points(rng, strings=14, partials=5):
    string = np.repeat(np.arange(strings), partials)
    number = np.tile(np.arange(1, partials + 1), strings).astype(float)
    return Points(
        string=string,
        place=string.astype(float),
        section=np.where(string < 5, "wire", "gut"),
        number=number,
        value=0.05 * string + 0.4 * np.log(number) + rng.normal(0, 0.2, string.size),
        deviation=np.full(string.size, 0.1),
    )


def test_departures_equal_those_of_a_process_fitted_without_the_string():
    # Rasmussen & Williams (2006), eqs. 2.23 and 2.24: the predictive mean and covariance, written out.
    rng = np.random.default_rng(1)
    p = points(rng)
    smooth = columns(p, SETTINGS)
    partial = rng.uniform(0.05, 0.1, p.value.size)
    string = rng.uniform(0.01, 0.03, 14)
    found = departures(smooth, p, partial, string, np.zeros(14))
    same = p.string[:, None] == p.string
    whole = smooth @ smooth.T + same * string[p.string] + np.diag(partial)
    for k in (0, 6, 13):
        own, rest = p.string == k, p.string != k
        gain = whole[np.ix_(own, rest)] @ np.linalg.inv(whole[np.ix_(rest, rest)])
        off = p.value[own] - gain @ p.value[rest]
        spread = np.linalg.inv(whole[np.ix_(own, own)] - gain @ whole[np.ix_(rest, own)])
        assert found.mean[k] == pytest.approx(spread.sum(axis=0) @ off / spread.sum(), abs=1e-6)
        assert found.deviation[k] == pytest.approx(spread.sum() ** -0.5, rel=1e-6)


def test_a_shift_taken_for_granted_is_given_back():
    p = points(np.random.default_rng(2))
    smooth, shift = columns(p, SETTINGS), np.zeros(14)
    partial, string = np.full(p.value.size, 0.05), np.full(14, 0.01)
    plain = departures(smooth, p, partial, string, shift)
    shift[6] = 0.7
    told = departures(smooth, p, partial, string, shift)
    assert told.mean[6] == pytest.approx(plain.mean[6], abs=1e-9)
    assert told.mean[5] > plain.mean[5]
