"""How likely a string is dull, by how its partials depart from what the other strings lead one to expect.

Task. From the departures of one string's partials (ln of their decay rates) with their covariance: the probability that
it is damped more than sound strings are, and by what its partials are then expected to depart.

Method. A string may lose more in two ways (`loss`): in proportion to what each partial loses (its own material), or by
the same in a second for all partials (dirt, air, its ends), which shows in the slow partials and hardly in the fast
ones. Each is weighed for factors of damping from barely audible to thrice and more, against a sound string: one as all
others, now and then a stray one that departs further either way. The odds are those of the whole vector of departures
under each hypothesis (Gaussian), with a stated base rate.

Conventions. A factor of damping is of the string's sound as a whole: of its partials' rates weighted by their power.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.settings import ConditionSettings

Vector = NDArray[np.float64]
Table = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Dulling:
    """The judgement of one string's departures."""

    probability: float
    shift: Vector
    """(M,) expected departure of its partials, times the probability."""
    shift_covariance: Table
    """(M, M) the doubt about that."""


def slowness(log_rate: Vector, level_db: Vector, most: float) -> Vector:
    """(M,) overall rate over each partial's own, at most `most`: how much the same loss for all shows in each."""
    rate = np.exp(log_rate)
    power = 10 ** ((level_db - level_db.max()) / 10)
    return np.minimum(float(power @ rate / power.sum()) / rate, most)


def weigh(error: Vector, covariance: Table, slow: Vector, s: ConditionSettings) -> Dulling:
    """Judge departures `error` (M,) with their covariance for a sound string; `slow` from `slowness`."""
    precision = np.linalg.inv(covariance)

    def likelihood(patterns: Table) -> Vector:
        """Of each pattern of departures (P, M) against none."""
        log = patterns @ (precision @ error) - 0.5 * np.sum(patterns @ precision * patterns, axis=1)
        return np.asarray(np.exp(np.clip(log, -MOST_LOG, MOST_LOG)))

    factors = np.exp(np.linspace(np.log(s.dull_least), np.log(s.dull_most), s.dull_steps))[:, None]
    patterns = np.concatenate([np.log(factors) * np.ones_like(slow), np.log1p((factors - 1) * slow)])
    prior = np.repeat([1 - s.constant_share, s.constant_share], len(factors)) / len(factors)
    worth = prior * likelihood(patterns)
    strays = np.linspace(-s.stray_reach, s.stray_reach, s.stray_steps) * s.stray_scale
    weight = np.exp(-np.abs(strays) / s.stray_scale)
    stray = likelihood(strays[:, None] * np.ones_like(slow)) @ weight / weight.sum()
    dull = s.base_rate * float(worth.sum())
    probability = dull / (dull + (1 - s.base_rate) * (1 - s.stray + s.stray * float(stray)))
    share = worth / worth.sum()
    mean = share @ patterns
    square = (share[:, None] * patterns).T @ patterns
    return Dulling(
        probability=probability,
        shift=probability * mean,
        shift_covariance=probability * square - probability**2 * np.outer(mean, mean),
    )


MOST_LOG = 300.0
"""Log-likelihoods beyond are as good as certain, and their exponentials still numbers."""
