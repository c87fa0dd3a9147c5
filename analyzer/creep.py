"""Creep as a linear model: the harp's strings, their readings, and what a grid of laws and constants makes of them.

The model and its sources are in `settling`. Here: N strings, J surveys, cents, days since the first survey. All that is
linear is integrated in closed form; strings are tied together only by the harp's mean drift and by what they share at
each survey, so that the sums run over strings and the matrices stay as small as the number of surveys.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyzer.settings import SettlingSettings

Vector = NDArray[np.float64]
Law = Literal["logarithmic", "exponential"]

_MAD_OF_NORMAL = 0.6745
"""Median absolute deviation of the normal distribution of deviation 1."""
_NO_WEIGHT = 1e-8
"""Precision of a reading that is not there, per square cent."""


@dataclass(frozen=True, slots=True)
class Block:
    """Readings arranged for the linear model, strings that slip left out."""

    y: Vector
    """(N, J) zero where missing."""
    noise: Vector
    """(N, J) variance of single readings."""
    present: NDArray[np.bool_]
    segments: NDArray[np.int64]
    """(N, J) number of the segment of each reading."""
    starts: Vector
    """(J,) day from which the segment of a stated retuning counts, else 0."""
    tuned: NDArray[np.bool_]
    """(N, J) whether the segment began at the string's note."""
    days: Vector
    common: Vector
    """(J,) variance of what a survey shares, from the clock."""


@dataclass(frozen=True, slots=True)
class Constant:
    """A law with its time constant."""

    law: Law
    shape: float
    tau_days: float
    width: float
    """Share of the law's grid that it stands for."""


@dataclass(frozen=True, slots=True)
class Point:
    """One point of the grid with its linear solution."""

    constant: Constant
    spread: float
    scatter: float
    log_evidence: float
    mean: Vector
    """(1 + J,) the harp's mean drift and what the surveys share."""
    covariance: Vector


def some(block: Block, chosen: NDArray[np.bool_]) -> Block:
    """The block of the chosen strings."""
    return replace(
        block,
        y=block.y[chosen],
        noise=block.noise[chosen],
        present=block.present[chosen],
        segments=block.segments[chosen],
        tuned=block.tuned[chosen],
    )


def law_values(law: Law, days: Vector, tau_days: float | Vector, shape: float | Vector) -> Vector:
    """The law without its factor.

    Logarithmic: ln(1 + t/τ) for shape 0, else ((1 + t/τ)^shape − 1)/shape, which tends to it. Exponential:
    1 − exp(−(t/τ)^shape).
    """
    values: Vector
    if law == "exponential":
        values = -np.expm1(-((days / tau_days) ** shape))
    else:
        log = np.log1p(days / tau_days)
        power = np.where(np.asarray(shape) > 0, shape, 1.0)
        values = np.where(np.asarray(shape) > 0, np.expm1(power * log) / power, log)
    return values


def _precisions(block: Block, scatter: float, settings: SettlingSettings) -> tuple[Vector, Vector]:
    """(N, J, J) inverse covariance of each string's readings but for creep, (N,) its log determinant."""
    size = len(block.days)
    misfit = settings.misfit_share * _span(block, settings)
    variance = block.noise + scatter**2 + misfit[:, None] ** 2
    same = (block.segments[:, :, None] == block.segments[:, None, :]).astype(float)
    free = np.where(block.tuned, settings.tuned_cents, settings.free_cents) ** 2
    both = block.present[:, :, None] & block.present[:, None, :]
    covariance = same * np.sqrt(free[:, :, None] * free[:, None, :]) * both + variance[:, :, None] * np.eye(size)
    covariance[~block.present[:, :, None] & np.eye(size, dtype=bool)] = 1 / _NO_WEIGHT
    return np.linalg.inv(covariance), np.linalg.slogdet(covariance)[1]


def _span(block: Block, settings: SettlingSettings) -> Vector:
    """(N,) how far each string moved within a segment, cents; a string far off the others counts for less."""
    spans = np.zeros(len(block.y))
    for i, (y, present, segments) in enumerate(zip(block.y, block.present, block.segments, strict=True)):
        for segment in np.unique(segments[present]):
            spans[i] = max(spans[i], np.ptp(y[present & (segments == segment)]))
    limited: Vector = np.minimum(spans, settings.misfit_limit * np.median(spans))
    return limited


def _covariate(block: Block, constant: Constant) -> Vector:
    """(J,) creep at each survey since its segment began, 1 from the first survey to the last."""

    def at(days: Vector) -> Vector:
        return law_values(constant.law, days, constant.tau_days, constant.shape)

    values: Vector = (at(block.days) - at(block.starts)) / at(block.days[-1:])[0]
    return values


def grid(block: Block, settings: SettlingSettings) -> list[Point]:
    """Every point of the coarse grid, solved."""
    constants = [
        Constant(law, shape, float(tau), share / number)
        for law, (least, most, number), shapes in _laws(settings)
        for shape, share in shapes
        for tau in np.geomspace(least, most, number)
    ]
    return _all_solved(block, constants, settings)


def finer(block: Block, points: Sequence[Point], settings: SettlingSettings) -> list[Point]:
    """The grid anew, with several time constants in place of each that carries some weight."""
    weights: dict[Constant, float] = {}
    for point, weight in zip(points, _weights(points), strict=True):
        weights[point.constant] = weights.get(point.constant, 0.0) + float(weight)
    steps = {law: (most / least) ** (1 / (number - 1)) for law, (least, most, number), _ in _laws(settings)}
    inside = (np.arange(settings.finer_n) + 0.5) / settings.finer_n - 0.5
    constants = [
        Constant(c.law, c.shape, float(c.tau_days * steps[c.law] ** place), c.width / settings.finer_n)
        for c, weight in weights.items()
        if weight >= settings.finer_weight
        for place in inside
    ]
    return _all_solved(block, constants, settings)


def _laws(
    settings: SettlingSettings,
) -> tuple[tuple[Law, tuple[float, float, int], Sequence[tuple[float, float]]], ...]:
    """Each law with its range of constants and its shapes."""
    return (
        ("logarithmic", settings.log_days, settings.log_shapes),
        ("exponential", settings.exponential_days, settings.exponential_shapes),
    )


def _all_solved(block: Block, constants: Sequence[Constant], settings: SettlingSettings) -> list[Point]:
    points = []
    for scatter in settings.scatter_cents:
        inverse, log_det = _precisions(block, scatter, settings)
        for constant in constants:
            points += _solved(block, constant, scatter, inverse, float(log_det.sum()), settings)
    return points


def _solved(
    block: Block, constant: Constant, scatter: float, inverse: Vector, log_det: float, settings: SettlingSettings
) -> list[Point]:
    """The points of one law, constant and scatter, for all spreads."""
    g = _covariate(block, constant)
    pulled = inverse @ g
    weight = pulled @ g
    drawn = np.einsum("nij,nj->ni", inverse, block.y)
    along = drawn @ g
    total, total_y = inverse.sum(axis=0), drawn.sum(axis=0)
    square = float(np.sum(drawn * block.y))
    points = []
    for spread in settings.spread_cents:
        share = spread**2 / (1 + spread**2 * weight)
        m = total - (pulled * share[:, None]).T @ pulled
        v = total_y - pulled.T @ (share * along)
        rest = square - float(np.sum(share * along**2))
        det = log_det + float(np.log1p(spread**2 * weight).sum())
        for common in settings.common_cents:
            prior = np.concatenate([[settings.mean_drift_cents**2], block.common + common**2])
            a = np.block([[np.array([[g @ m @ g]]), -(g @ m)[None, :]], [-(m @ g)[:, None], m]]) + np.diag(1 / prior)
            b = np.concatenate([[-(g @ v)], v])
            covariance = np.linalg.inv(a)
            mean = covariance @ b
            evidence = -0.5 * (det + float(np.log(prior).sum()) + np.linalg.slogdet(a)[1] + rest - b @ mean)
            points.append(Point(constant, spread, scatter, float(evidence), mean, covariance))
    return points


def _weights(points: Sequence[Point]) -> Vector:
    """The probability of each point: the laws alike beforehand, and the logarithms of the constants within each."""
    evidence = np.array([p.log_evidence + math.log(p.constant.width) for p in points])
    weights: Vector = np.exp(evidence - evidence.max())
    weights /= weights.sum()
    return weights


def slips(block: Block, points: Sequence[Point], settings: SettlingSettings) -> tuple[Vector, Vector]:
    """(N,) fall beside creep, cents a day, and how far that stands out of the harp, in its own standard deviations.

    At the likeliest point; the deviations are set by the other strings, so that a misfit common to all is no fall.
    """
    point = points[int(np.argmax(_weights(points)))]
    inverse, _ = _precisions(block, point.scatter, settings)
    g = _covariate(block, point.constant)
    pulled = inverse @ g
    alone = np.sum(pulled * (point.mean[None, 1:] - block.y) * block.present, axis=1) / (pulled @ g)
    apart = float(np.median(np.abs(alone - np.median(alone)))) / _MAD_OF_NORMAL
    spread = settings.slip_spread * max(apart, settings.slip_least_share * abs(float(np.median(alone))))
    share = spread**2 / (1 + spread**2 * (pulled @ g))
    inverse = inverse - share[:, None, None] * pulled[:, :, None] * pulled[:, None, :]
    rest = np.where(block.present, block.y + point.mean[0] * g[None, :] - point.mean[None, 1:], 0.0)
    time = block.days - block.starts
    along = np.einsum("nij,j->ni", inverse, time)
    weight = along @ time
    enough = block.present.sum(axis=1) >= settings.least_surveys_n
    rate = np.where(enough, np.sum(along * rest, axis=1) / weight, np.nan)
    deviations = np.where(enough, rate * np.sqrt(weight), 0.0)
    middle = float(np.median(deviations))
    unlike = float(np.median(np.abs(deviations - middle))) / _MAD_OF_NORMAL
    return rate, (deviations - middle) / max(unlike, settings.slip_least_unlike)


@dataclass(frozen=True, slots=True)
class Draws:
    """D draws from what the data leave open."""

    drift: Vector
    """(N, D) each string's creep from the first survey to the last, a fall positive."""
    logarithmic: NDArray[np.bool_]
    shape: Vector
    tau_days: Vector
    common: Vector
    """(D, J)."""
    last_day: float

    def unit(self, start: Vector | float, stop: Vector | float) -> Vector:
        """(D,) share of the drift from `start` to `stop`; (K, D) for (K, 1) days."""
        share: Vector = (self._at(stop) - self._at(start)) / self._at(self.last_day)
        return share

    def _at(self, day: Vector | float) -> Vector:
        t = np.asarray(day, dtype=float)
        exponent = np.where(self.logarithmic, 1.0, self.shape)
        log = law_values("logarithmic", t, self.tau_days, np.where(self.logarithmic, self.shape, 0.0))
        return np.where(self.logarithmic, log, law_values("exponential", t, self.tau_days, exponent))

    def settled(self, settings: SettlingSettings) -> Vector:
        """(N, D) day from which a string stays within the tolerance for `stay_days`; past the horizon twice that.

        Creep slows down by all laws, so that the first such day is the one from which it holds.
        """
        days = np.concatenate([[0.0], np.geomspace(settings.day_step, settings.horizon_days, settings.days_n)])
        moves = self.unit(days[:, None], days[:, None] + settings.stay_days)
        allowed = settings.tolerance_cents / np.maximum(np.abs(self.drift), np.finfo(float).tiny)
        found = np.empty_like(allowed)
        for d in range(allowed.shape[1]):
            found[:, d] = np.interp(
                allowed[:, d], moves[::-1, d], days[::-1], left=2 * settings.horizon_days, right=0.0
            )
        return found


def drawn(block: Block, points: Sequence[Point], settings: SettlingSettings) -> Draws:
    """Draws of every string's drift, the law and its constant, and what the surveys share."""
    rng = np.random.default_rng(settings.seed)
    counts = rng.multinomial(settings.drawn_n, _weights(points))
    drift, laws, shapes, taus, common = [], [], [], [], []
    inverses: dict[float, Vector] = {}
    for point, count in zip(points, counts, strict=True):
        if count:
            if point.scatter not in inverses:
                inverses[point.scatter] = _precisions(block, point.scatter, settings)[0]
            inverse = inverses[point.scatter]
            g = _covariate(block, point.constant)
            shared = rng.multivariate_normal(point.mean, point.covariance, size=count)
            pulled = inverse @ g
            precision = pulled @ g + point.spread**-2
            rest = block.y[:, None, :] - shared[None, :, 1:]
            rest = np.where(block.present[:, None, :], rest, 0.0)
            mean = (shared[None, :, 0] * point.spread**-2 - np.einsum("nj,ndj->nd", pulled, rest)) / precision[:, None]
            drift.append(mean + rng.standard_normal(mean.shape) / np.sqrt(precision)[:, None])
            laws += [point.constant.law == "logarithmic"] * count
            shapes += [point.constant.shape] * count
            taus += [point.constant.tau_days] * count
            common.append(shared[:, 1:])
    return Draws(
        drift=np.concatenate(drift, axis=1),
        logarithmic=np.array(laws),
        shape=np.array(shapes),
        tau_days=np.array(taus),
        common=np.concatenate(common),
        last_day=float(block.days[-1]),
    )
