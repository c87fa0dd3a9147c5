"""Strings that fall beside creep: a slipping pin, a slipping knot, a failing string.

Task: readings and what creep makes of the harp -> for each string the odds that it slips, and how fast.

Method. Two models of each string's readings are weighed (Bayes factor): it creeps, by the harp's law, with a size and a
pace of its own; or it falls besides, in jerks, from one of the surveys on. Size and pace are freer here than the
harp's strings differ: a newly fitted string among old ones creeps more and is no fault. The odds against are set so
high that over a whole harp a false alarm stays rare (`slip_odds`).

Known limits: a string that slips from the first survey on and ever more slowly is one that creeps.
"""

import math

import numpy as np

from analyzer.creep import Block, Solved, Vector, moves, reading_weights, sizes
from analyzer.settings import SettlingSettings


def slips(block: Block, solved: Solved, settings: SettlingSettings) -> tuple[Vector, Vector]:
    """(N,) fall beside creep in cents a day, NaN where readings are too few; (N,) logarithm of the Bayes factor."""
    chosen = np.argsort(solved.log_evidence, kind="stable")[-settings.slip_points_n :]
    few = Solved(*(getattr(solved, name)[chosen] for name in Solved.__slots__))
    g, h = moves(few, block.starts, block.days)
    weights = reading_weights(block, few.points, settings)
    spread, _ = sizes(block, few.points, settings)
    pace = settings.slip_pace * block.spans
    known = np.linalg.inv(few.precision)
    size = 2 + len(block.days)
    falls = np.array([np.maximum(0.0, block.days - max(day, 0.0)) for day in block.days[:-1]])
    falls -= np.array([np.maximum(0.0, block.starts - day) for day in block.days[:-1]])
    rates, odds = np.full(len(block.y), np.nan), np.full(len(block.y), -np.inf)
    for i, present in enumerate(block.present):
        if present.sum() < settings.least_surveys_n:
            continue
        group = int(np.argmax(block.groups[:, i]))
        place = slice(group * size, (group + 1) * size)
        own_rates, own_odds = [], []
        for p in range(len(chosen)):
            design = np.column_stack([-g[p], -block.spans[i] * h[p], np.eye(len(block.days))])
            expected = design @ few.mean[p, place]
            levels = (block.segments[i] * block.level[i][:, None]).T
            freer = max(spread[p], settings.slip_size_share * abs(few.mean[p, place][0]))
            covariance = design @ known[p, place, place] @ design.T + levels @ levels.T + np.diag(1 / weights[p, i])
            covariance += freer**2 * np.outer(g[p], g[p]) + pace[i] ** 2 * np.outer(h[p], h[p])
            inside = np.ix_(present, present)
            own = _weighed(falls[:, present], (block.y[i] - expected)[present], covariance[inside], settings)
            own_rates.append(own[0])
            own_odds.append(own[1])
        weight = np.exp(np.array(own_odds) - max(own_odds))
        odds[i] = max(own_odds) + math.log(weight.mean())
        rates[i] = -float(np.average(own_rates, weights=weight))
    return rates, odds


def _weighed(falls: Vector, rest: Vector, covariance: Vector, settings: SettlingSettings) -> tuple[float, float]:
    """The rate of fall, positive, and the logarithm of the odds for it, over all days on which it may have begun.

    The rate is half-normal beforehand, so that the odds have a closed form; a slip comes in jerks, which add up.
    """
    from scipy.special import log_ndtr

    jerks = settings.slip_jerk**2 * np.minimum(falls[:, :, None], falls[:, None, :])
    slipping = covariance + jerks
    solved = np.linalg.solve(slipping, np.stack([falls, np.broadcast_to(rest, falls.shape)], axis=2))
    weight = np.einsum("kj,kj->k", solved[:, :, 0], falls)
    variance = 1 / (weight + settings.slip_rate**-2)
    mean = -variance * (solved[:, :, 0] @ rest)
    reach = mean / np.sqrt(variance)
    odds = math.log(2) + np.log(np.sqrt(variance) / settings.slip_rate) + 0.5 * reach**2 + log_ndtr(reach)
    odds -= 0.5 * (np.linalg.slogdet(slipping)[1] + solved[:, :, 1] @ rest)
    odds += 0.5 * (np.linalg.slogdet(covariance)[1] + rest @ np.linalg.solve(covariance, rest))
    share = np.exp(odds - odds.max())
    return float(np.average(mean, weights=share)), float(odds.max() + math.log(share.mean()))
