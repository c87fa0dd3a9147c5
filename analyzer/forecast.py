"""Draws of every string's creep from what the readings leave open, and the days that follow from them."""

import math
from dataclasses import dataclass

import numpy as np

from analyzer.creep import NUISANCES_N, Block, Law, Solved, Vector, at, moves, reading_weights, sizes, solve
from analyzer.sampling import sample
from analyzer.settings import SettlingSettings

_LEAST_CENTS = 0.1
"""A string that creeps less has no pace to speak of."""


@dataclass(frozen=True, slots=True)
class Draws:
    """D draws, K to each of the P points."""

    solved: Solved
    size: Vector
    """(N, P, K) a string's fall by the last survey, but for its pace …"""
    pace: Vector
    """(N, P, K) … and what its own pace is times that."""
    common: Vector
    """(P, K, J) what the strings share at each survey, the mean of the groups."""
    last_day: float
    pace_most: float
    """No string is taken to creep more times as fast or slowly as its material."""

    def fall(self, days: Vector) -> Vector:
        """(N, P·K, T) by each day, each string at its own pace: the law of so many times the days."""
        most = math.log(self.pace_most)
        factor = np.clip(self.pace / np.maximum(self.size, _LEAST_CENTS), -most, most)
        n, p, k = self.size.shape
        found = np.empty((n, p, k, len(days)))
        for i in range(n):
            own = days * np.exp(factor[i])[..., None]
            whole = at(self.solved.falls, self.last_day * np.exp(factor[i]))
            share = at(self.solved.falls, own.reshape(p, -1)).reshape(own.shape)
            found[i] = (self.size[i] / whole)[..., None] * share
        return found.reshape(n, p * k, len(days))

    def drift(self) -> Vector:
        """(N, P·K) fall from the first survey to the last, positive."""
        return self.fall(np.array([self.last_day]))[:, :, 0]

    def settled(self, settings: SettlingSettings) -> Vector:
        """(N, P·K) day from which a string stays within the tolerance for `stay_days`; past the horizon twice that."""
        days = np.concatenate([[0.0], np.geomspace(settings.day_step, settings.horizon_days, settings.days_n)])
        excess = np.abs(self.fall(days + settings.stay_days) - self.fall(days)) - settings.tolerance_cents
        restless = excess > 0
        last = len(days) - 1 - np.argmax(restless[:, :, ::-1], axis=2)
        following = np.minimum(last + 1, len(days) - 1)
        before, after = (np.take_along_axis(excess, k[..., None], axis=2)[..., 0] for k in (last, following))
        share = np.where(following > last, before / np.maximum(before - after, 1e-9), 0.0)
        found = days[last] + share * (days[following] - days[last])
        found = np.where(restless[:, :, -1], 2 * settings.horizon_days, found)
        settled: Vector = np.where(restless.any(axis=2), found, 0.0)
        return settled


def likeliest(days: Vector, settings: SettlingSettings) -> float:
    """The day near which most of the draws lie, or twice the horizon where more of them lie past it.

    Where the data leave much open, draws reach far to the late side and drag their median along.
    """
    step, width = settings.likely_step_days, settings.likely_days
    inside = days[days <= settings.horizon_days]
    places = np.arange(-math.ceil(3 * width / step), math.ceil(3 * width / step) + 1)
    kernel = np.exp(-0.5 * (places * step / width) ** 2)
    counts = np.bincount(np.round(inside / step).astype(int), minlength=1)
    near = np.convolve(counts, kernel)[-places[0] : -places[0] + len(counts)]
    if len(days) - len(inside) > near.max():
        return 2 * settings.horizon_days
    return float(np.argmax(near)) * step


def sampled(
    block: Block, law: Law, settings: SettlingSettings, *, particles_n: int, moves_n: int, last_n: int
) -> tuple[Solved, float]:
    """Constants of the law and scatters in proportion to what the readings make of them, and the logarithm of the
    evidence for all of them together; both with the likelihood's power `trust`.
    """
    points, evidence = sample(
        lambda z: solve(block, law, z, settings).log_evidence,
        law.size + NUISANCES_N,
        particles_n=particles_n,
        moves_n=moves_n,
        last_n=last_n,
        trust=settings.trust,
        seed=settings.seed,
    )
    return solve(block, law, points, settings), evidence


def draw(block: Block, solved: Solved, each_n: int, settings: SettlingSettings) -> Draws:
    """`each_n` draws from each point; `block` may have strings that had no part in solving."""
    rng = np.random.default_rng(settings.seed)
    p, size = solved.mean.shape
    root = np.linalg.cholesky(solved.precision)
    normal = rng.standard_normal((p, size, each_n))
    shared = solved.mean[:, :, None] + np.linalg.solve(np.swapaxes(root, 1, 2), normal)
    shared = shared.reshape(p, len(block.groups), -1, each_n)
    shared_mean = np.moveaxis(shared[:, :, 2:].mean(axis=1), 1, 2)
    g, h = moves(solved, block.starts, block.days)
    spread, pace = sizes(block, solved.points, settings)
    weights = reading_weights(block, solved.points, settings)
    sizes_drawn, paces_drawn = [], []
    for i in range(len(block.y)):
        group = int(np.argmax(block.groups[:, i]))
        average, common = shared[:, group, 0], np.swapaxes(shared[:, group, 2:], 1, 2)
        faster = block.spans[i] * shared[:, group, 1]
        w, inside = weights[:, i], block.segments[i].astype(float)
        shapes = np.stack([spread[:, None] * g, pace[:, i, None] * h], axis=1)
        levels = w[:, None, :] * inside[None] / np.sqrt(w @ inside.T + block.level[i] ** -2)[:, :, None]
        pulled = w[:, None, :] * shapes - np.einsum("prj,psj,psk->prk", shapes, levels, levels)
        rest = block.y[i] - common + average[:, :, None] * g[:, None, :] + faster[:, :, None] * h[:, None, :]
        known = np.linalg.inv(np.einsum("prj,pqj->prq", pulled, shapes) + np.eye(2))
        mean = -np.einsum("prq,pqj,pkj->prk", known, pulled, rest)
        unit = mean + np.linalg.cholesky(known) @ rng.standard_normal((p, 2, each_n))
        sizes_drawn.append(average + spread[:, None] * unit[:, 0])
        paces_drawn.append(faster + pace[:, i, None] * unit[:, 1])
    return Draws(
        solved, np.stack(sizes_drawn), np.stack(paces_drawn), shared_mean, float(block.days[-1]), settings.pace_most
    )
