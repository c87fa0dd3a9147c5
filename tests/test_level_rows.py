"""Rows of levels against numpy's own ways with one row at a time."""

import numpy as np
import pytest

from analyzer.level_rows import between, last_clear, lines_through, mean_of, running_mean

TIMES_S = np.arange(40) * 0.01
ROWS = np.random.default_rng(0).standard_normal((3, 40)) - 20 * TIMES_S
PART = (np.arange(40) >= [[0], [5], [10]]) & (np.arange(40) < [[40], [31], [12]])


def test_lines_are_those_of_least_squares():
    expected = [np.polyfit(TIMES_S[part], row[part], 1)[0] for row, part in zip(ROWS, PART, strict=True)]
    assert lines_through(TIMES_S, ROWS, PART) == pytest.approx(expected)


def test_a_line_through_one_value_or_none_is_level():
    assert lines_through(TIMES_S, ROWS, np.arange(40) < [[0], [1], [0]]).tolist() == [0.0, 0.0, 0.0]


def test_means_are_those_of_what_counts():
    assert mean_of(ROWS, PART) == pytest.approx(np.ma.array(ROWS, mask=~PART).mean(axis=1).data)


def test_between_two_values_rows_run_straight_and_beyond_they_stay():
    at_s = TIMES_S + 0.003
    wanted_s = np.linspace(-0.05, 0.5, 77)
    expected = [np.interp(wanted_s, at_s, row) for row in ROWS]
    assert between(at_s, ROWS, wanted_s) == pytest.approx(np.array(expected))


@pytest.mark.parametrize("width", [1, 3, 8])
def test_running_means_carry_the_ends_on(width):
    padded = np.pad(ROWS, ((0, 0), (width // 2, width - 1 - width // 2)), mode="edge")
    expected = [np.convolve(row, np.ones(width) / width, mode="valid") for row in padded]
    assert running_mean(ROWS, width) == pytest.approx(np.array(expected))
    assert running_mean(ROWS[0], width) == pytest.approx(expected[0])


def test_the_last_clear_value_counts_also_after_a_gap():
    power = np.array([[9.0, 9.0, 1.0, 9.0, 1.0], [1.0, 1.0, 1.0, 1.0, 1.0], [9.0, 9.0, 9.0, 9.0, 9.0]])
    assert last_clear(power, np.array([1.0, 1.0, 2.0]), 4.0).tolist() == [4, 0, 5]
    assert last_clear(power[0], 1.0, 4.0) == 4
