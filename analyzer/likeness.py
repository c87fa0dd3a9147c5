"""Like with like: what two recordings of one harp say of its strings after what phones and rooms do is taken out.

Task: from one figure of each string before and after (the logarithm of its decay time, its brightness in dB) to each
string's own change, with its interval.

Method. Another phone or room changes neighbouring strings much alike, and the bass otherwise than the treble (a phone
that filters the bass takes a third of its decays), so that what is common is a string's place on a straight line
through its nearest neighbours, itself left out, by the Theil–Sen estimator (Sen, J. Am. Stat. Assoc. 63 (1968) 1379),
which up to 29 % of strings that really changed do not bend. What remains of a string is its own change. How far its
neighbours scatter about lines of their own is what two recordings leave open there, and goes into its interval with
Student's factor, as few as they are, and a share of the scatter over the whole harp: by the half or by the four fifths
that lie nearest, whichever scatters more, since two recordings differ by many small amounts and some large ones.

Known limits: what happened to all strings of a stretch alike (all old, all replaced) goes out with the line and cannot
be seen; with few strings in both recordings nothing is said at all. Of strings damped twice as much as before, those in
the lowest octave, where a phone changes most, are often not shown (`tests/bench/takes`).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_QUANTILES = ((0.5, 0.6745), (0.8, 1.2816))
"""Shares of the normal distribution of deviation 1, and the absolute values that they lie within."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Own:
    """One string's own change."""

    value: float
    u95: float
    """Half-width of its 95 % interval: both measurements and the scatter about the common lines."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Likeness:
    """The own changes, and what was common."""

    own: tuple[Own | None, ...]
    """One for each string; None where it was not measured in both, or too few were."""
    common: float | None
    """The common difference of the middle string (median); None where too few strings were measured in both."""
    strings_n: int
    """How many were."""


def own_changes(
    differences: Sequence[float | None], u95: Sequence[float], *, least_n: int, neighbours_n: int, whole_share: float
) -> Likeness:
    """Each string's difference (after minus before, in order over the harp) less what is common to its neighbours.

    `u95`: half-widths of the differences from the measurements alone. `neighbours_n` nearest strings make a line;
    `whole_share` of the scatter's variance is that of the whole harp.
    """
    from scipy.stats import t, theilslopes

    places = [i for i, d in enumerate(differences) if d is not None]
    if len(places) < max(least_n, 5):
        return Likeness(own=(None,) * len(differences), common=None, strings_n=len(places))
    x = np.array(places, dtype=float)
    y = np.array([differences[i] for i in places], dtype=float)
    away = np.abs(x[:, None] - x) + np.diag(np.full(len(x), np.inf))
    near = np.argsort(away, axis=1, kind="stable")[:, : min(neighbours_n, len(x) - 1)]
    common = np.empty(len(x))
    for i, others in enumerate(near):
        slope = float(theilslopes(y[others], x[others]).slope)
        common[i] = np.median(y[others] - slope * x[others]) + slope * x[i]
    rest = y - common
    whole = _scatter(rest)
    factor = float(t.ppf(0.975, near.shape[1] - 2))
    own: list[Own | None] = [None] * len(differences)
    for i, place in enumerate(places):
        scatter = math.hypot(math.sqrt(1 - whole_share) * _scatter(rest[near[i]]), math.sqrt(whole_share) * whole)
        own[place] = Own(value=float(rest[i]), u95=math.hypot(u95[place], factor * scatter))
    return Likeness(own=tuple(own), common=float(np.median(common)), strings_n=len(places))


def _scatter(rest: NDArray[np.float64]) -> float:
    """Standard deviation about zero by the half and the four fifths that lie nearest."""
    return max(float(np.quantile(np.abs(rest), share)) / size for share, size in _QUANTILES)
