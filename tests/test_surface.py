"""Leaving every string out at once equals leaving each out in turn, and a smooth harp is recognised as one."""

from dataclasses import replace

import numpy as np
import pytest
import scipy.linalg

from analyzer.settings import ConditionSettings
from analyzer.surface import Points, Rows, body_columns, columns, departures

SETTINGS = ConditionSettings()


def points(rng, strings=14, partials=5):
    """The last strings have a partial less."""
    string = np.repeat(np.arange(strings), partials)
    number = np.tile(np.arange(1, partials + 1), strings).astype(float)
    kept = (string < strings - 3) | (number < partials)
    string, number = string[kept], number[kept]
    return Points(
        string=string,
        place=string.astype(float),
        section=np.where(string < 5, "wire", "gut"),
        number=number,
        hz=110.0 * 2 ** (string / 7) * number,
        value=0.05 * string + 0.4 * np.log(number) + rng.normal(0, 0.2, string.size),
        deviation=np.full(string.size, 0.1),
        level_db=np.zeros(string.size),
    )


def scatters(rng, p):
    """Of strings whose partials scatter singly, all together, and in another pattern; shorter rows filled up."""
    inside = Rows(p.string).inside
    out = np.tile(np.eye(inside.shape[1]), (len(inside), 1, 1))
    for table, n in zip(out, inside.sum(axis=1), strict=True):
        pattern = rng.normal(0, 0.2, n)
        table[:n, :n] = np.diag(rng.uniform(0.05, 0.1, n)) + 0.02 + np.outer(pattern, pattern)
    return out


def test_departures_equal_those_of_a_process_fitted_without_the_string():
    # Rasmussen & Williams (2006), eqs. 2.23 and 2.24: the predictive mean and covariance, written out.
    rng = np.random.default_rng(1)
    p = points(rng)
    smooth, scatter = columns(p.place, p.number, p.section, SETTINGS), scatters(rng, p)
    found = departures(smooth, Rows(p.string), p.value, scatter, np.zeros(p.value.size))
    length = [int((p.string == k).sum()) for k in range(14)]
    blocks = [table[:n, :n] for table, n in zip(scatter, length, strict=True)]
    whole = smooth @ smooth.T + scipy.linalg.block_diag(*blocks)
    for k in (0, 6, 13):
        own, rest = p.string == k, p.string != k
        gain = whole[np.ix_(own, rest)] @ np.linalg.inv(whole[np.ix_(rest, rest)])
        n, left = length[k], whole[np.ix_(own, own)] - gain @ whole[np.ix_(rest, own)]
        assert found.error[k, :n] == pytest.approx(p.value[own] - gain @ p.value[rest], abs=1e-6)
        assert found.covariance[k, :n, :n] == pytest.approx(left, abs=1e-6)
    assert length[13] == 4
    assert found.error[13, 4] == 0
    assert found.covariance[13, 4].tolist() == [0, 0, 0, 0, 1]


def test_a_shift_taken_for_granted_is_given_back():
    rng = np.random.default_rng(2)
    p = points(rng)
    smooth, scatter, shift = columns(p.place, p.number, p.section, SETTINGS), scatters(rng, p), np.zeros(p.value.size)
    plain = departures(smooth, Rows(p.string), p.value, scatter, shift)
    shift[p.string == 6] = [0.7, 0.6, 0.5, 0.4, 0.3]
    told = departures(smooth, Rows(p.string), p.value, scatter, shift)
    assert told.error[6] == pytest.approx(plain.error[6], abs=1e-9)
    assert told.error[5].mean() > plain.error[5].mean()


def test_what_the_soundboard_takes_at_one_frequency_is_expected_of_other_strings_there():
    """Woodhouse, Euphonics, 5.1.2: what a string loses to the body goes by the admittance at its frequency.

    The notch is of another shape than the program's curves: all partials between 600 and 700 Hz lose a half more.
    """
    rng = np.random.default_rng(3)
    p = points(rng, strings=30, partials=8)
    inside = (p.hz > 600) & (p.hz < 700)
    p = replace(p, value=p.value + np.where(inside, 0.4, 0.0))
    scatter = np.array([np.diag(np.full(8, 0.05)) + 0.01] * 30)
    off = {}
    for name, smooth in (
        ("place", columns(p.place, p.number, p.section, SETTINGS)),
        ("body", np.hstack([columns(p.place, p.number, p.section, SETTINGS), body_columns(p.hz, SETTINGS)])),
    ):
        found = departures(smooth, Rows(p.string), p.value, scatter, np.zeros(p.value.size))
        off[name] = float(np.abs(found.error[Rows(p.string).inside][inside].mean()))
    assert len(set(p.string[inside])) >= 6
    assert off["place"] > 0.25
    assert off["body"] < 0.6 * off["place"]
