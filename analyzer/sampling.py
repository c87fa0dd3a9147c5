"""Points of the unit cube in proportion to what the data make of them.

Task: a log-likelihood over the unit cube, uniform beforehand -> draws from what it leaves open, and how likely the data
are over the whole cube, by which models are weighed.

Method. Sequential Monte Carlo by tempering (Del Moral, Doucet & Jasra, J. R. Stat. Soc. B 68 (2006) 411): particles are
spread evenly (Sobol points), the likelihood is let in by powers, each as far as half of them still count, and after
each step those kept are moved by differential evolution (ter Braak, Stat. Comput. 16 (2006) 239) with Metropolis'
test, reflected at the walls. A model that is only nearly right is given less trust than its likelihood claims, by a
power below 1 (Miller & Dunson, J. Am. Stat. Assoc. 114 (2019) 1113). All of it is in batches
of particles and from one seed.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Vector = NDArray[np.float64]

_STEP = 2.38
"""Optimal for normal targets, over √(2·dimensions) (ter Braak 2006)."""
_JITTER = 1e-3
"""Keeps the moves from a lattice, share of the cube."""
_LONG = 0.15
"""Share of moves with a step of 1, which cross from one mode to another (ter Braak 2006 has 1 in 10)."""


def sample(
    log_likelihood: Callable[[Vector], Vector],
    dimensions: int,
    *,
    particles_n: int,
    moves_n: int,
    last_n: int,
    trust: float,
    seed: int,
) -> tuple[Vector, float]:
    """(particles_n, dimensions) draws from likelihood^trust; `moves_n` moves after each step, `last_n` at the end.

    And the logarithm of the mean of likelihood^trust over the cube.
    """
    from scipy.stats import qmc

    rng = np.random.default_rng(seed)
    points: Vector = qmc.Sobol(dimensions, rng=rng).random_base2(int(np.ceil(np.log2(4 * particles_n))))
    value = log_likelihood(points)
    power, evidence = 0.0, 0.0
    while power < trust:
        step = _next_step(value, trust - power, particles_n / 2)
        weights = np.exp(step * (value - value.max()))
        evidence += step * float(value.max()) + float(np.log(weights.mean()))
        power = trust if step >= trust - power else power + step
        chosen = _resampled(weights / weights.sum(), particles_n, rng)
        points, value = points[chosen], value[chosen]
        for _ in range(last_n if power >= trust else moves_n):
            points, value = _moved(points, value, power, log_likelihood, rng)
    return points, evidence


def _next_step(value: Vector, most: float, wanted: float) -> float:
    """How much more of the likelihood can be let in while so many particles count."""

    def counting(step: float) -> float:
        weights = np.exp(step * (value - value.max()))
        return float(weights.sum() ** 2 / (weights**2).sum())

    if counting(most) >= wanted:
        return most
    low, high = 0.0, most
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if counting(middle) >= wanted else (low, middle)
    return max(low, most * 1e-6)


def _resampled(weights: Vector, n: int, rng: np.random.Generator) -> NDArray[np.intp]:
    """Systematic resampling."""
    places = (np.arange(n) + rng.random()) / n
    return np.minimum(np.searchsorted(np.cumsum(weights), places), len(weights) - 1)


def _moved(
    points: Vector, value: Vector, power: float, log_likelihood: Callable[[Vector], Vector], rng: np.random.Generator
) -> tuple[Vector, Vector]:
    n, dimensions = points.shape
    one = (np.arange(n) + rng.integers(1, n, n)) % n
    other = (np.arange(n) + rng.integers(1, n, n)) % n
    step = np.where(rng.random(n) < _LONG, 1.0, _STEP / np.sqrt(2 * dimensions) * rng.uniform(0.3, 1.2, n))
    tried = points + step[:, None] * (points[one] - points[other]) + rng.normal(0, _JITTER, points.shape)
    tried = 1 - np.abs(1 - np.mod(tried, 2.0))  # reflected at the walls
    new = log_likelihood(tried)
    taken = np.log(rng.random(n)) < power * (new - value)
    return np.where(taken[:, None], tried, points), np.where(taken, new, value)
