"""Like with like: what two recordings of one harp say of its strings after what phones and rooms do is taken out.

Task: from one figure of each string before and after (the logarithm of its decay time, its brightness in dB) to each
string's own change, with its interval.

Method. Another phone or room changes all strings alike, or with a trend from bass to treble: a straight line through
the differences over the strings by the Theil–Sen estimator (Sen, J. Am. Stat. Assoc. 63 (1968) 1379), which up to 29 %
of strings that really changed do not bend. What remains of a string is its own change. How far the strings scatter
about the line is what two recordings leave open, and goes into each interval: by the half or by the four fifths of them
that lie nearest, whichever scatters more, since two recordings differ by many small amounts and some large ones.

Known limits: what happened to all strings alike (all old, all replaced) goes out with the line and cannot be seen; with
few strings in both recordings nothing is said at all.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

_QUANTILES = ((0.5, 0.6745), (0.8, 1.2816))
"""Shares of the normal distribution of deviation 1, and the absolute values that they lie within."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Own:
    """One string's own change."""

    value: float
    u95: float
    """Half-width of its 95 % interval: both measurements and the scatter about the common line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Likeness:
    """The own changes, and what was common."""

    own: tuple[Own | None, ...]
    """One for each string; None where it was not measured in both, or too few were."""
    common: float | None
    """The common difference at the middle of the harp; None where too few strings were measured in both."""
    strings_n: int
    """How many were."""


def own_changes(
    differences: Sequence[float | None], u95: Sequence[float], *, least_n: int, coverage: float
) -> Likeness:
    """Each string's difference (after minus before, in order over the harp) less what is common to all.

    `u95`: half-widths of the differences from the measurements alone. `coverage`: the factor for 95 %.
    """
    from scipy.stats import theilslopes

    places = [i for i, d in enumerate(differences) if d is not None]
    if len(places) < max(least_n, 2):
        return Likeness(own=(None,) * len(differences), common=None, strings_n=len(places))
    x = np.array(places, dtype=float)
    y = np.array([differences[i] for i in places], dtype=float)
    slope = float(theilslopes(y, x).slope)
    level = float(np.median(y - slope * x))
    rest = y - level - slope * x
    scatter = max(float(np.quantile(np.abs(rest), share)) / size for share, size in _QUANTILES)
    own: list[Own | None] = [None] * len(differences)
    for i, value in zip(places, rest, strict=True):
        own[i] = Own(value=float(value), u95=math.hypot(u95[i], coverage * scatter))
    return Likeness(own=tuple(own), common=level + slope * (len(differences) - 1) / 2, strings_n=len(places))
