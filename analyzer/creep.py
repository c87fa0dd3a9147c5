"""Creep as a model: what the readings say of a law of creep, of the strings' sizes, and of what they share.

The model and its sources are in `settling`. Here: N strings, J surveys, P points of the law's and the scatters'
constants, cents, days since the first survey. Given a point all else is linear and normal and is integrated in closed
form; strings are tied together only by the harp's mean fall and by what they share at each survey, so that the sums run
over strings and the matrices stay as small as the number of surveys. A point is a place in the unit cube, which is
uniform beforehand: first the law's own coordinates, then the four of `NUISANCES_N`.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analyzer.settings import SettlingSettings

Vector = NDArray[np.float64]

NUISANCES_N = 4
"""Scatter of readings, spread of sizes, spread of paces, size of what surveys share."""
DAYS = np.concatenate([[0.0], 0.005 * 1e5 ** (np.arange(200) / 159)])
"""Days at which a law is worked out; between them it is taken as straight. The last are 25 years off: a record may go
on for ten, and some strings creep 2.5 times as fast as the others."""
_SHARED_N = 12
"""Sizes of what surveys share that are told apart, because their matrices are the largest."""
_STEP = float(np.log(DAYS[2] / DAYS[1]))
_NO_WEIGHT = 1e-12
"""Precision of a reading that is not there, per square cent."""


@dataclass(frozen=True, slots=True)
class Block:
    """Readings arranged for the linear model."""

    y: Vector
    """(N, J) zero where missing."""
    noise: Vector
    """(N, J) variance of single readings."""
    present: NDArray[np.bool_]
    segments: NDArray[np.bool_]
    """(N, S, J) whether a reading belongs to that tuning of its string; false where missing."""
    starts: Vector
    """(J,) day from which the tuning of the whole harp counts that was stated, else 0."""
    level: Vector
    """(N, S) standard deviation of where a string stood at the start of that tuning, cents."""
    days: Vector
    common: Vector
    """(J,) variance of what a survey shares, from the clock."""
    spans: Vector
    """(N,) how far a string moved, about."""
    groups: Vector
    """(G, N) 1 where a string is of that group (material), else 0."""


@dataclass(frozen=True, slots=True)
class Law:
    """A family of laws of creep."""

    size: int
    """Number of coordinates."""
    falls: Callable[[Vector], Vector]
    """(P, size) of the unit cube -> (P, len(DAYS)) fall, of any scale, 0 at first."""


@dataclass(frozen=True, slots=True)
class Solved:
    """P points with their linear solutions."""

    points: Vector
    """(P, K) in the unit cube."""
    log_evidence: Vector
    falls: Vector
    """(P, len(DAYS)) the law, 1 at the last survey."""
    paces: Vector
    """(P, len(DAYS)) its derivative by the pace's logarithm, at an unchanged fall by the last survey."""
    mean: Vector
    """(P, G·(2 + J)) for each group its mean fall, its pace, and what its strings share at each survey …"""
    precision: Vector
    """(P, G·(2 + J), G·(2 + J)) … and what is known of them."""


def some(block: Block, chosen: NDArray[np.bool_]) -> Block:
    """The block of the chosen strings."""
    return replace(
        block,
        y=block.y[chosen],
        noise=block.noise[chosen],
        present=block.present[chosen],
        segments=block.segments[chosen],
        level=block.level[chosen],
        spans=block.spans[chosen],
        groups=block.groups[:, chosen],
    )


def any_law(settings: SettlingSettings) -> Law:
    """The rate of fall is (1 + t/τ)^−a · exp(−t/T), and with it or without a slower exponential.

    a = 1 and T without end is the logarithmic law, a = 0 the exponential, 0 < a < 1 the powers, or with an end what
    many relaxations between τ and T make together; the slower one makes two exponentials, or a flow hardly ending.
    """
    t = DAYS
    month = np.array([settings.month_days])

    def falls(z: Vector) -> Vector:
        exponent, tau, end, share, slow = law_constants(z, settings)
        rate = (1 + t / tau[:, None]) ** -exponent[:, None] * np.exp(-t / end[:, None])
        fall = np.zeros_like(rate)
        np.cumsum(0.5 * (rate[:, 1:] + rate[:, :-1]) * np.diff(t), axis=1, out=fall[:, 1:])
        slower = -np.expm1(-t / slow[:, None])
        return (1 - share[:, None]) * fall / at(fall, month) + share[:, None] * slower / at(slower, month)

    return Law(5, falls)


def law_constants(z: Vector, settings: SettlingSettings) -> tuple[Vector, Vector, Vector, Vector, Vector]:
    """(P,) each: exponent a, τ and T in days; the slower exponential's share of the fall of a month, its constant."""
    places, exponents = zip(*settings.exponents, strict=True)
    exponent = np.interp(z[:, 0], places, exponents)
    lasting = z[:, 2] >= 1 - settings.endless
    end = np.where(lasting, np.inf, _log_between(z[:, 2] / (1 - settings.endless), settings.end_days))
    share = settings.slow_most * np.maximum(0.0, (z[:, 3] - settings.no_slow) / (1 - settings.no_slow))
    return exponent, _log_between(z[:, 1], settings.tau_days), end, share, _log_between(z[:, 4], settings.slow_days)


def _log_between(z: Vector, ends: tuple[float, float]) -> Vector:
    values: Vector = ends[0] * (ends[1] / ends[0]) ** z
    return values


def nuisances(z: Vector, block: Block, settings: SettlingSettings) -> tuple[Vector, Vector, Vector, Vector]:
    """(P,) each: scatter in cents, spread of sizes in cents, spread of paces (logarithm), shared movement in cents."""
    typical = max(float(np.median(block.spans)), 1.0) if len(block.spans) else 1.0
    return (
        _log_between(z[:, -4], settings.scatter_cents),
        _log_between(z[:, -3], settings.spread_share) * typical,
        _log_between(z[:, -2], settings.pace_spread),
        _log_between(np.floor(z[:, -1] * _SHARED_N) / (_SHARED_N - 1), settings.common_cents),
    )


def at(values: Vector, days: Vector) -> Vector:
    """(P, len(DAYS)) at other days, (D,) the same for all points or (P, D) for each."""
    place = np.log(np.maximum(days, DAYS[1]) / DAYS[1]) / _STEP + 1
    right = np.minimum(place.astype(np.int64) + 1, len(DAYS) - 1)
    right = np.where(days < DAYS[1], 1, right)
    share = np.clip((days - DAYS[right - 1]) / (DAYS[right] - DAYS[right - 1]), 0.0, 1.0)
    if days.ndim == 1:
        found: Vector = values[:, right - 1] * (1 - share) + values[:, right] * share
        return found
    low, high = (np.take_along_axis(values, k, axis=1) for k in (right - 1, right))
    between: Vector = low + share * (high - low)
    return between


def moves(solved: Solved, start: Vector, stop: Vector) -> tuple[Vector, Vector]:
    """(P, D) share of the fall from `start` to `stop`, and its derivative by the logarithm of the pace."""
    return (
        at(solved.falls, stop) - at(solved.falls, start),
        at(solved.paces, stop) - at(solved.paces, start),
    )


def solve(block: Block, law: Law, points: Vector, settings: SettlingSettings) -> Solved:
    """The points with evidence and linear solutions, a few at a time to spare memory."""
    room = block.segments.size + 2 * block.y.size + len(block.days) ** 2
    parts = np.array_split(points, max(1, len(points) * room // settings.batch_n))
    solved = [_solve(block, law, part, settings) for part in parts]
    return Solved(*(np.concatenate([getattr(s, name) for s in solved]) for name in Solved.__slots__))


@dataclass(frozen=True, slots=True)
class _Whitened:
    """Per point and string: weights of readings, and what is known of its own two unknowns (size and pace)."""

    weights: Vector
    """(P, N, J)"""
    rows: Vector
    """(P, N, S + 2, J) what is taken from the weights because levels, size and pace are unknown."""
    rows_y: Vector
    """(P, N, S + 2) the same of the readings."""
    log_det: Vector
    """(P,)"""


def _solve(block: Block, law: Law, points: Vector, settings: SettlingSettings) -> Solved:
    falls = law.falls(points[:, : law.size])
    falls = falls / at(falls, block.days[-1:])
    paces = np.zeros_like(falls)
    paces[:, 1:] = np.gradient(falls[:, 1:], np.log(DAYS[1:]), axis=1)
    paces -= at(paces, block.days[-1:]) * falls
    g = at(falls, block.days) - at(falls, block.starts)
    h = at(paces, block.days) - at(paces, block.starts)
    white = _whitened(block, g, h, points, settings)
    rest = (white.weights * block.y**2).sum(axis=(1, 2)) - (white.rows_y**2).sum(axis=(1, 2))
    groups_n, size = len(block.groups), 2 + len(block.days)
    prior, prior_det = _prior(block, points, settings)
    a = prior.reshape(len(points), groups_n, size, groups_n, size)
    b = np.empty((len(points), groups_n, size))
    for k, chosen in enumerate(block.groups.astype(bool)):
        a[:, k, :, k], b[:, k] = _normal(block, white, g, h, chosen, a[:, k, :, k])
    normal, right = a.reshape(len(points), groups_n * size, -1), b.reshape(len(points), -1)
    mean: Vector = np.linalg.solve(normal, right[:, :, None])[:, :, 0].astype(np.float64)
    root = np.linalg.cholesky(normal)
    det = white.log_det + prior_det + 2 * np.log(np.einsum("pkk->pk", root)).sum(axis=1)
    evidence = -0.5 * (det + rest - np.einsum("pk,pk->p", right, mean))
    return Solved(points, np.asarray(evidence, dtype=float), falls, paces, mean, normal)


def _normal(
    block: Block, white: "_Whitened", g: Vector, h: Vector, chosen: NDArray[np.bool_], prior: Vector
) -> tuple[Vector, Vector]:
    """The normal equations of one group's mean fall, pace and shared movements: (P, 2 + J, 2 + J), (P, 2 + J)."""
    w, y, spans = white.weights[:, chosen], block.y[chosen], block.spans[chosen]
    rows, rows_y = white.rows[:, chosen], white.rows_y[:, chosen]
    design = np.stack([np.broadcast_to(g[:, None], w.shape), spans[:, None] * h[:, None]], axis=2)  # (P, n, 2, J)
    size = 2 + y.shape[1]
    through = np.concatenate([-np.einsum("pnkj,pnrj->pnkr", rows, design), rows], axis=3)
    through = through.reshape(len(w), -1, size)
    a = prior - np.swapaxes(through, 1, 2) @ through
    weighted = design * w[:, :, None]
    a[:, :2, :2] += np.einsum("pnrj,pnqj->prq", weighted, design)
    cross = weighted.sum(axis=1)
    a[:, :2, 2:] -= cross
    a[:, 2:, :2] -= np.swapaxes(cross, 1, 2)
    places = np.arange(2, size)
    a[:, places, places] += w.sum(axis=1)
    b = -np.einsum("pks,pk->ps", through, rows_y.reshape(len(w), -1))
    b[:, :2] -= np.einsum("pnrj,nj->pr", weighted, y)
    b[:, 2:] += (w * y).sum(axis=1)
    return a, b


def _prior(block: Block, points: Vector, settings: SettlingSettings) -> tuple[Vector, Vector]:
    """(P, G·(2 + J), the same) precision beforehand of what the groups have of their own and share, and (P,) the
    logarithm of the determinant of its inverse.

    What surveys share is weather, alike on days near one another and in part alike for all groups, and the clock.
    """
    weather, places = np.unique(nuisances(points, block, settings)[3], return_inverse=True)
    groups_n, j = len(block.groups), len(block.days)
    own = np.arange(groups_n)
    alike = np.exp(-np.abs(block.days[:, None] - block.days[None, :]) / settings.weather_days)
    between = settings.weather_alike + (1 - settings.weather_alike) * np.eye(groups_n)
    clock = np.diag(block.common) + settings.clock_floor_cents**2 * np.eye(j)
    shared = weather[:, None, None] ** 2 * np.kron(between, alike) + np.kron(np.ones_like(between), clock)
    shared += settings.clock_floor_cents**2 * np.eye(groups_n * j)
    prior = np.zeros((len(weather), groups_n, 2 + j, groups_n, 2 + j))
    prior[:, :, 2:, :, 2:] = np.linalg.inv(shared).reshape(-1, groups_n, j, groups_n, j)
    prior[:, own, 0, own, 0] = settings.mean_drift_cents**-2
    prior[:, own, 1, own, 1] = settings.group_pace**-2
    return prior.reshape(len(weather), groups_n * (2 + j), -1)[places], np.linalg.slogdet(shared)[1][places]


def reading_weights(block: Block, points: Vector, settings: SettlingSettings) -> Vector:
    """(P, N, J) precision of each reading."""
    scatter = nuisances(points, block, settings)[0]
    variance = block.noise + scatter[:, None, None] ** 2
    weights: Vector = np.where(block.present, 1 / variance, _NO_WEIGHT)
    return weights


def sizes(block: Block, points: Vector, settings: SettlingSettings) -> tuple[Vector, Vector]:
    """(P,) standard deviation of strings' sizes about the mean; (P, N) of what their pace adds."""
    _, spread, pace, _ = nuisances(points, block, settings)
    return spread, pace[:, None] * block.spans[None, :]


def _whitened(block: Block, g: Vector, h: Vector, points: Vector, settings: SettlingSettings) -> _Whitened:
    w = reading_weights(block, points, settings)
    spread, pace = sizes(block, points, settings)
    inside = block.segments.astype(float)
    sums = np.einsum("pnj,nsj->pns", w, inside)
    level = block.level[None] ** 2
    scale = 1 / np.sqrt(sums + 1 / level)
    levels = w[:, :, None, :] * inside[None] * scale[..., None]
    levels_y = np.einsum("pnsj,nj->pns", levels, block.y)
    pulled, pulled_y, inner = [], [], np.empty((*pace.shape, 2, 2))
    shapes = (spread[:, None, None] * g[:, None, :], pace[:, :, None] * h[:, None, :])
    for shape in shapes:
        along = np.einsum("pnsj,pnj->pns", levels, np.broadcast_to(shape, w.shape))
        pulled.append(w * shape - np.einsum("pns,pnsj->pnj", along, levels))
        pulled_y.append(np.einsum("pnj,nj->pn", w * shape, block.y) - (along * levels_y).sum(axis=2))
    for r in range(2):
        for c in range(2):
            inner[:, :, r, c] = (pulled[r] * shapes[c]).sum(axis=2) + (r == c)
    first = np.sqrt(inner[:, :, 0, 0])
    low = inner[:, :, 1, 0] / first
    second = np.sqrt(inner[:, :, 1, 1] - low**2)
    row_0, y_0 = pulled[0] / first[..., None], pulled_y[0] / first
    row_1 = (pulled[1] - low[..., None] * row_0) / second[..., None]
    y_1 = (pulled_y[1] - low * y_0) / second
    log_det = (
        -(np.log(w) * block.present).sum(axis=(1, 2))
        + np.log1p(level * sums).sum(axis=(1, 2))
        + 2 * (np.log(first) + np.log(second)).sum(axis=1)
    )
    rows = np.concatenate([levels, row_0[:, :, None], row_1[:, :, None]], axis=2)
    rows_y = np.concatenate([levels_y, y_0[:, :, None], y_1[:, :, None]], axis=2)
    return _Whitened(w, rows, rows_y, log_det)
