"""Levels or powers over time, a row for each partial: running means, ends, straight lines, all rows at once.

Conventions. Tables are (N, K): N rows on one grid of K times; `part` (N, K) marks the values that count.
"""

import numpy as np
from numpy.typing import NDArray

Vector = NDArray[np.float64]
Table = NDArray[np.float64]


def between(at_s: Vector, values: Table, times_s: Vector) -> Table:
    """(N, K) rows of `values` at evenly spaced `at_s`, between which they run straight, at `times_s`."""
    place = np.clip((times_s - at_s[0]) / (at_s[1] - at_s[0]), 0, len(at_s) - 1)
    left = np.minimum(place.astype(int), len(at_s) - 2)
    low = values[:, left]
    return np.asarray(low + (values[:, left + 1] - low) * (place - left))


def running_mean(x: Table, width: int) -> Table:
    """Running mean along the last axis; the ends are carried on."""
    if width < 2:
        return x
    before, after = width // 2, width - 1 - width // 2
    ends = np.repeat(x[..., :1], before, axis=-1), np.repeat(x[..., -1:], after, axis=-1)
    padded = np.concatenate([ends[0], x, ends[1]], axis=-1)
    total = padded[..., : x.shape[-1]].copy()
    for k in range(1, width):
        total += padded[..., k : k + x.shape[-1]]
    return np.asarray(total / width)


def last_clear(power: Table, noise: float | Vector, factor: float) -> NDArray[np.int64]:
    """Number of values (along the last axis) from the start up to where the power last stands `factor` above noise."""
    clear = power > factor * np.asarray(noise)[..., None]
    return np.where(clear.any(axis=-1), power.shape[-1] - clear[..., ::-1].argmax(axis=-1), 0)


def mean_of(values: Table, part: NDArray[np.bool_]) -> Vector:
    """(N,) mean of each row's values in `part`."""
    return np.asarray(np.where(part, values, 0.0).sum(axis=1) / part.sum(axis=1))


def lines_through(times_s: Vector, values: Table, part: NDArray[np.bool_]) -> Vector:
    """(N,) slope of the straight line through each row's values in `part` (N, K); 0 with fewer than two of them."""
    count = np.maximum(part.sum(axis=1), 1)
    x = np.where(part, times_s - (part @ times_s / count)[:, None], 0.0)
    return np.asarray((x * values).sum(axis=1) / np.maximum((x * x).sum(axis=1), 1e-300))
