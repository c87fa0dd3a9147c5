"""The stiff-string law through a string's partials, and what it says of the first.

Method. f_n = n·f_1·√((1+B·n²)/(1+B)) (Fletcher, JASA 36 (1964) 203) with a scatter of the partials about it, found
from the partials themselves by the method of moments (DerSimonian & Laird, Control. Clin. Trials 7 (1986) 177): where
they obey the law it is sharp, where they do not it says little.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.settings import PitchSettings

Vector = NDArray[np.float64]

CENTS = 1200 / np.log(2)
"""Cents to a unit of natural logarithm of frequency."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Law:
    """What the partials from the second on say together."""

    cents: float
    """First partial against the seed."""
    deviation_cents: float
    stiffness: float
    scatter_cents: float


def fit_law(n: Vector, y: Vector, own: Vector, stiffness: tuple[float, float] | None, s: PitchSettings) -> Law:
    """The stiff-string law through partials n >= 2: y = cents of f_n / n against the seed, `own` their deviations.

    In cents the law is 600·log2((1+B·n²)/(1+B)), all but linear in B: fitted with B's prior, iterated once or twice.
    The scatter of the partials about it is estimated by the method of moments and used in the weights.
    """
    guess, loose = stiffness if stiffness else (s.usual_stiffness, s.usual_loose)
    wide = guess * (np.exp(loose) - 1)
    scatter2 = 0.0 if len(n) >= s.law_partials else s.usual_scatter_cents**2
    bend = guess
    solution, covariance = np.array([float(y[0]), guess]), np.eye(2)
    for _ in range(s.law_rounds):
        shape = CENTS / 2 * np.log((1 + bend * n**2) / (1 + bend)) / bend
        plain = 1 / (own**2 + s.least_law_cents**2)
        weight = 1 / (1 / plain + scatter2)
        columns = np.column_stack([np.ones_like(n), shape])
        covariance = np.linalg.inv((columns * weight[:, None]).T @ columns + np.diag([1e-9, 1 / wide**2]))
        solution = covariance @ ((columns * weight[:, None]).T @ y + np.array([0.0, guess / wide**2]))
        rest = y - columns @ solution
        bend = float(np.clip(solution[1], 1e-9, s.most_stiffness))
        if len(n) >= s.law_partials:
            excess = float(np.sum(plain * rest**2)) - max(len(n) - 2, 1)
            of = float(np.sum(plain) - np.sum(plain**2) / np.sum(plain))
            scatter2 = max(0.0, excess / of)
    return Law(
        cents=float(solution[0]),
        deviation_cents=float(np.sqrt(covariance[0, 0])),
        stiffness=bend,
        scatter_cents=float(np.sqrt(scatter2)),
    )


def weighed(a: tuple[float, float], b: tuple[float, float]) -> tuple[float, float]:
    """Mean of two (value, standard deviation), and its own standard deviation."""
    weight_a, weight_b = 1 / a[1] ** 2, 1 / b[1] ** 2
    total = weight_a + weight_b
    return (a[0] * weight_a + b[0] * weight_b) / total, float(1 / np.sqrt(total))
