"""Strings that fall beside creep: a slipping pin, a slipping knot, a failing string.

Task: readings and what creep makes of the harp -> for each string the odds that it slips, and how fast.

Method. Two models of each string's readings are weighed (Bayes factor): it creeps, by the harp's law, with a size and a
pace of its own; or it falls besides, in jerks, from one of the surveys on. In both it is either a string like the
harp's others, or, more seldom, one whose size and pace are freer: a newly fitted string among old ones creeps more and
is no fault. How likely each model makes the readings is averaged over draws of the law, so that a string is not accused
where only some of the laws fail it. The odds against are set so high that over a whole harp a false alarm stays rare
(`slip_odds`).

Known limits: a string that slips from the first survey on and ever more slowly is one that creeps.
"""

import math

import numpy as np

from analyzer.creep import Block, Solved, Vector, moves, reading_weights, sizes
from analyzer.settings import SettlingSettings


def slips(block: Block, solved: Solved, settings: SettlingSettings) -> tuple[Vector, Vector]:
    """(N,) fall beside creep in cents a day, NaN where readings are too few; (N,) logarithm of the Bayes factor."""
    from scipy.special import logsumexp

    last = len(solved.points) - 1
    chosen = np.unique(np.linspace(0, last, settings.slip_points_n).astype(int))
    few = Solved(*(getattr(solved, name)[chosen] for name in Solved.__slots__))
    falls = np.array([np.maximum(0.0, block.days - max(day, 0.0)) for day in block.days[:-1]])
    falls -= np.array([np.maximum(0.0, block.starts - day) for day in block.days[:-1]])
    shares = np.repeat([settings.slip_ordinary, 1 - settings.slip_ordinary], len(chosen))[:, None]
    rates, odds = np.full(len(block.y), np.nan), np.full(len(block.y), -np.inf)
    for i, (rest, covariance) in enumerate(zip(*_creeping(block, few, settings), strict=True)):
        present = block.present[i]
        if present.sum() < settings.least_surveys_n:
            continue
        inside = covariance[:, present][:, :, present]
        slipping, by_day = _slipping(falls[:, present], rest[:, present], inside, settings)
        odds[i] = logsumexp(slipping, b=shares) - math.log(len(falls))
        odds[i] -= logsumexp(_log_normal(rest[:, present], inside), b=shares[:, 0])
        rates[i] = -float(np.average(by_day, weights=shares * np.exp(slipping - slipping.max())))
    return rates, odds


def _creeping(block: Block, few: Solved, settings: SettlingSettings) -> tuple[Vector, Vector]:
    """(N, 2·P, J) readings less what creep expects, (N, 2·P, J, J) their covariance: strings like the others, freer.

    For a string that had a part in solving, its readings count twice, in favour of creep.
    """
    g, h = moves(few, block.starts, block.days)
    p, j = g.shape
    weights = reading_weights(block, few.points, settings)
    spread, pace = sizes(block, few.points, settings)
    known = np.linalg.inv(few.precision)
    size = 2 + j
    rests, covariances = [], []
    for i, y in enumerate(block.y):
        group = int(np.argmax(block.groups[:, i]))
        place = slice(group * size, (group + 1) * size)
        mean = few.mean[:, place]
        design = np.concatenate(
            [-g[:, :, None], -block.spans[i] * h[:, :, None], np.broadcast_to(np.eye(j), (p, j, j))], axis=2
        )
        levels = (block.segments[i] * block.level[i][:, None]).T
        covariance = design @ known[:, place, place] @ np.swapaxes(design, 1, 2) + levels @ levels.T
        covariance = covariance + np.eye(j) / weights[:, i, :, None]
        freer = np.maximum(spread, settings.slip_size_share * np.abs(mean[:, 0]))
        paces = (pace[:, i], np.full(p, settings.slip_pace * block.spans[i]))
        own = [_squared(g, a) + _squared(h, b) for a, b in zip((spread, freer), paces, strict=True)]
        rests.append(np.tile(y - np.einsum("pjk,pk->pj", design, mean), (2, 1)))
        covariances.append(np.concatenate([covariance + more for more in own]))
    return np.array(rests), np.array(covariances)


def _squared(shape: Vector, deviation: Vector) -> Vector:
    """(P, J), (P,) -> (P, J, J) covariance of so much of that shape."""
    along = shape * deviation[:, None]
    return along[:, :, None] * along[:, None, :]


def _log_normal(rest: Vector, covariance: Vector) -> Vector:
    """(..., J), (..., J, J) -> (...) logarithm of the density, but for what all share."""
    solved = np.linalg.solve(covariance, rest[..., None])[..., 0]
    found: Vector = -0.5 * (np.linalg.slogdet(covariance)[1] + (solved * rest).sum(axis=-1))
    return found


def _slipping(falls: Vector, rest: Vector, covariance: Vector, settings: SettlingSettings) -> tuple[Vector, Vector]:
    """(Q, K) logarithm of the density where a slip began on the k-th day, and the rate of fall, positive.

    The rate is half-normal beforehand, so that the density has a closed form; a slip comes in jerks, which add up.
    """
    from scipy.special import log_ndtr

    jerks = settings.slip_jerk**2 * np.minimum(falls[:, :, None], falls[:, None, :])
    slipping = covariance[:, None] + jerks
    rests = np.broadcast_to(rest[:, None], (len(rest), *falls.shape))
    along = np.linalg.solve(slipping, np.broadcast_to(falls, rests.shape)[..., None])[..., 0]
    variance = 1 / ((along * falls).sum(axis=2) + settings.slip_rate**-2)
    mean = -variance * (along * rests).sum(axis=2)
    reach = mean / np.sqrt(variance)
    found = math.log(2) + np.log(np.sqrt(variance) / settings.slip_rate) + 0.5 * reach**2 + log_ndtr(reach)
    return found + _log_normal(rests, slipping), mean
