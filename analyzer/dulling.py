"""How likely a string is dull, by how its partials depart from what the other strings lead one to expect.

Task. From the departures of one string's partials (ln of their decay rates) with their covariance: the probability that
it is damped more than sound strings are, and by what its partials are then expected to depart.

Method. A string may lose more in two ways (`loss`): in proportion to what each partial loses (its own material), or by
the same in a second for all partials (dirt, air, its ends), which shows in the slow partials and hardly in the fast
ones. Each is weighed for factors of damping from barely audible to thrice and more, against a sound string: one as all
others, now and then a stray one that departs further either way. The odds are those of the whole vector of departures
under each hypothesis (Gaussian), with a stated base rate.

Conventions. Strings in rows, as many partials to each as the one with the most has. A factor of damping is of the
string's sound as a whole: of its partials' rates weighted by their power.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from analyzer.settings import ConditionSettings

Vector = NDArray[np.float64]
Table = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Dulling:
    """The judgement of K strings' departures."""

    probability: Vector
    """(K,)"""
    shift: Table
    """(K, M) by what its partials are expected to depart, dull or stray: what its neighbours are told of it."""
    shift_covariance: Table
    """(K, M, M) the doubt about that."""
    log_likelihood: Vector
    """(K,) natural logarithm of how much likelier its departures are than of a string surely sound and no stray."""


def slowness(log_rate: Table, level_db: Table, most: float) -> Table:
    """(K, M) overall rate over each partial's own, at most `most`: how much the same loss for all shows in each.

    Partials that are not there have a level of minus infinity, and a slowness of 0.
    """
    rate = np.exp(log_rate)
    power = 10 ** ((level_db - level_db.max(axis=1, keepdims=True)) / 10)
    whole = np.sum(power * rate, axis=1, keepdims=True) / power.sum(axis=1, keepdims=True)
    return np.where(np.isfinite(level_db), np.minimum(whole / rate, most), 0.0)


def weigh(error: Table, precision: Table, slow: Table, base_rate: float, s: ConditionSettings) -> Dulling:
    """Judge departures `error` (K, M) with the inverses of their covariances for sound strings; `slow` from `slowness`.

    Partials that are not there have errors and slownesses of 0. `base_rate`: share of dull strings taken for granted.
    """
    grid = _grid(s)
    flat = (slow > 0)[:, None]
    away = np.concatenate([grid.log_factors * flat, np.log1p(grid.excess * slow[:, None]), grid.strays * flat], axis=1)
    log = (away @ (precision @ error[:, :, None]))[:, :, 0] - 0.5 * np.sum(away @ precision * away, axis=2)
    worth = np.exp(np.clip(log, -MOST_LOG, MOST_LOG))
    worth *= np.where(grid.dull, base_rate, 1 - base_rate) * grid.share
    every = worth.sum(axis=1) + (1 - base_rate) * (1 - s.stray)
    share = worth / every[:, None]
    shift = (share[:, None] @ away)[:, 0]
    return Dulling(
        probability=share[:, grid.dull].sum(axis=1),
        shift=shift,
        shift_covariance=(share[:, :, None] * away).transpose(0, 2, 1) @ away - shift[:, :, None] * shift[:, None],
        log_likelihood=np.log(every),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Grid:
    """What is tried: F factors in proportion, F of the same loss for all partials, and S strays."""

    log_factors: Table
    """(F, 1)"""
    excess: Table
    """(F, 1) factors, less 1."""
    strays: Table
    """(S, 1) departures of stray strings."""
    dull: NDArray[np.bool_]
    """(2F + S,)"""
    share: Vector
    """(2F + S,) of the dull strings, or of the sound ones."""


@lru_cache(maxsize=4)
def _grid(s: ConditionSettings) -> _Grid:
    factors = np.exp(np.linspace(np.log(s.dull_least), np.log(s.dull_most), s.dull_steps))
    strays = np.linspace(-s.stray_reach, s.stray_reach, s.stray_steps)
    weight = np.exp(-np.abs(strays))
    dull = np.repeat([1 - s.constant_share, s.constant_share], len(factors)) / len(factors)
    return _Grid(
        log_factors=np.log(factors)[:, None],
        excess=factors[:, None] - 1,
        strays=s.stray_scale * strays[:, None],
        dull=np.arange(2 * len(factors) + len(strays)) < 2 * len(factors),
        share=np.concatenate([dull, s.stray * weight / weight.sum()]),
    )


MOST_LOG = 300.0
"""Log-likelihoods beyond are as good as certain, and their exponentials still numbers."""
