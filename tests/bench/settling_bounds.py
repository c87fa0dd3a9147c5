"""How well the settled day can be foreseen by one who knows more than the readings say: for `settling`.

Four of them: one who is told every retuning; who knows besides that the law is one of the seven, each alike probable,
and the ranges of their constants; who knows which of them it is; and who knows every string's law with its constants
and the noise, and has only the sizes, levels and the weather to find. Nobody can do better than the last; a method that
knew nothing but this simulation could do about as well as the second.
"""

from dataclasses import replace

import numpy as np

from analyzer.creep import DAYS, Law
from analyzer.forecast import draw, likeliest, sampled
from analyzer.settings import SettlingSettings
from analyzer.settling import Settling, fit
from analyzer.tunings import Readings, arranged, stated
from tests.bench.settling_harps import CONSTANTS_N, LAWS, Harp, curve, settled_day

SETTINGS = SettlingSettings()
Days = tuple[float | None, float | None, float | None]
"""Low end, the likeliest, high end."""


def told(harp: Harp) -> Readings:
    """The readings with every retuning stated."""
    days = harp.readings.days
    return replace(harp.readings, retuned_days=tuple(float(days[m]) for m in np.flatnonzero(np.diff(harp.tunings))))


def days_of(found: Settling) -> Days:
    return found.settled_day_low, found.settled_day, found.settled_day_high


def knowing_retunings(harp: Harp) -> Days:
    return days_of(fit(told(harp), SETTINGS))


def knowing_laws(harp: Harp, laws: tuple[str, ...]) -> Days:
    """By the same model with the simulation's own laws in place of the general one."""
    readings = told(harp)
    block, _ = arranged(readings, stated(readings), SETTINGS)
    settings = replace(SETTINGS, trust=1.0)
    solved, _ = sampled(
        block,
        _one_of(laws),
        settings,
        particles_n=settings.particles_n,
        moves_n=settings.moves_n,
        last_n=settings.last_moves_n,
    )
    days = draw(block, solved, settings.draws_each_n, settings).settled(settings).max(axis=0)
    low, high = np.quantile(days, (0.05, 0.95))
    return float(low), likeliest(days, settings), float(high)


def _one_of(laws: tuple[str, ...]) -> Law:
    """One of the laws, the first coordinate saying which."""

    def falls(z):
        which = np.minimum((z[:, 0] * len(laws)).astype(int), len(laws) - 1)
        found = np.empty((len(z), len(DAYS)))
        for k, law in enumerate(laws):
            chosen = which == k
            if chosen.any():
                of = curve(law, z[chosen, 1 : 1 + CONSTANTS_N[law]].T[:, :, None])
                found[chosen] = of(DAYS) / of(np.array([28.0]))
        return found

    return Law(1 + max(CONSTANTS_N[law] for law in laws), falls)


KNOWING = {
    "told": knowing_retunings,
    "seven laws": lambda harp: knowing_laws(harp, LAWS),
    "the law": lambda harp: knowing_laws(harp, (harp.law,)),
    "all": lambda harp: knowing_constants(harp),
}


def knowing_constants(harp: Harp) -> Days:
    """By generalised least squares where all but sizes, levels and weather is known."""
    rng = np.random.default_rng(len(harp.readings.days))
    cents = harp.readings.cents
    n, j = cents.shape
    y, weights = np.nan_to_num(cents), np.where(np.isnan(cents), 1e-12, harp.noise**-2)
    days = harp.readings.days
    weather = 0.9**2 * np.exp(-np.abs(days[:, None] - days) / 4) + np.eye(j) * 0.18**2
    precision, right = np.zeros((n + j, n + j)), np.zeros(n + j)
    precision[n:, n:] = np.linalg.inv(weather)
    for i, g in enumerate(harp.curves):
        own = np.diag(weights[i])
        for k in np.unique(harp.tunings):
            w = weights[i] * (harp.tunings == k)
            own -= np.outer(w, w) / (w.sum() + 1e-9)
        precision[i, i] = g @ own @ g + 60**-2
        precision[i, n:] = precision[n:, i] = -g @ own
        precision[n:, n:] += own
        right[i] = -g @ own @ y[i]
        right[n:] += own @ y[i]
    covariance = np.linalg.inv(precision)
    root = np.linalg.cholesky(covariance[:n, :n])
    mean, unit = (covariance @ right)[:n], harp.fall / harp.sizes[:, None]
    draws = [settled_day(unit * np.abs(mean + root @ rng.standard_normal(n))[:, None]) for _ in range(40)]
    low, day, high = np.sort(draws)[[2, 20, 37]]
    return float(low), float(day), float(high)
