"""Settling: how each string drifts after tuning, when the harp will hold, and which string never will.

Task: from three or more dated surveys of one harp, a curve of creep for every string with what it leaves open; from
that the day from which every string stays within the tolerance for a week, how often to tune, and the strings that keep
falling (a slipping pin, a slipping knot, a failing string: sound cannot tell which).

Conventions: days since the first survey; cents against one fixed reference for each string, so that a fall is negative;
standard deviations inside, half-widths of 95 % (surveys) or the named share outside.

Method. With g the law, 1 at the last survey, a reading of string i at survey j is
y_ij = a_i − c_i·g(t_j·e^{δ_i}) + u_j + e_ij: c_i is what it creeps by the last survey, δ_i how much faster or slower
its own creep goes, u_j what all strings
(and strings of one material still more) share, which is weather and the recorder's clock. Sizes c_i are drawn toward
their material's average, and δ_i toward it and toward zero, each as far as the harp's strings differ. No law of harp
strings was found published, so the law is one family, with logarithmic, exponential, powers and sums of them in it
(`creep.any_law`); its constants, the scatters and the spreads are drawn in proportion to what the readings make of
them (`sampling`), all else, δ_i being small, is linear and integrated in closed form (`creep`). So laws are averaged by
evidence and not picked (Hoeting et al., Stat. Sci. 14 (1999) 382), and a day that hangs on the law gets a wide
interval. Days are medians and 90 % intervals of draws (`forecast`).

Retuning starts a string's a_i anew. One that was stated leaves it at its note; one that was not is found where strings
rise, which creep never does.

Known limits: weather that goes one way for weeks is taken for creep; a harp that is far from settled at the last survey
has a wide interval, because laws that fit alike so far part after it; a retuning is taken to begin no new creep.
"""

import itertools
import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyzer.creep import NUISANCES_N, Block, Solved, Vector, any_law, moves, solve, some
from analyzer.forecast import Draws, draw
from analyzer.sampling import sample
from analyzer.settings import SettlingSettings
from analyzer.slipping import slips

Law = Literal["logarithmic", "exponential"]

_DEFAULTS = SettlingSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """What the surveys say, N strings and J surveys in the order of time."""

    strings: tuple[str, ...]
    days: Vector
    """(J,) since the first survey."""
    cents: Vector
    """(N, J) against one reference for each string; NaN where there is no reading."""
    u95_cents: Vector
    """(N, J) half-widths of single readings; any value where there is none."""
    common_u95_cents: Vector
    """(J,) half-widths of what a whole survey shares (the recorder's clock)."""
    retuned_days: tuple[float, ...] = ()
    """When the person says the harp was retuned; on the day of a survey, before or after it by what it shows."""
    materials: tuple[str, ...] = ()
    """(N,) of the strings; those of one are more alike. Empty: all of one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StringSettling:
    """One string."""

    string: str
    drift_cents: float | None
    """Creep from the first survey to the last, negative for a fall; None with fewer than two readings."""
    drift_u95_cents: float | None
    next_week_cents: float | None
    """What it will do within `stay_days` after the last survey."""
    next_week_u95_cents: float | None
    settled_day: float | None
    """From which it stays within the tolerance for `stay_days`; None when past the horizon."""
    slipping: bool
    slip_cents_per_day: float | None
    """Its fall beside creep; None where the readings cannot tell."""
    retuned: tuple[int, ...]
    """Surveys (index) before which it seems to have been retuned, alone or with the harp."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settling:
    """One harp's settling."""

    law: Law
    """How its creep slows down, the likelier way: `exponential`, coming to an end within the time surveyed, or
    `logarithmic`, ever more slowly and without an end in it …"""
    law_probability: float
    """… and how likely."""
    settled_day: float | None
    """Day, since the first survey, from which every string that does not slip stays within the tolerance for
    `stay_days`; None when past the horizon."""
    settled_day_low: float | None
    settled_day_high: float | None
    """Ends of its 90 % interval; None when past the horizon."""
    tune_every_days: float | None
    """From the last survey on: how long 95 % of the strings stay within the tolerance; None when past the horizon."""
    tune_every_days_low: float | None
    strings: tuple[StringSettling, ...]
    common_cents: tuple[float, ...]
    """What all strings share at each survey (weather, clock), against the mean."""
    retuned_surveys: tuple[int, ...]
    """Surveys (index) before which the whole harp was retuned, stated or found."""
    fitted_cents: tuple[tuple[float, ...], ...]
    """The curve at each survey, a row for each string, NaN where there is no reading: for the chart."""


def fit(readings: Readings, settings: SettlingSettings = _DEFAULTS) -> Settling:
    """Fit creep to the readings. Raises ValueError with fewer than `least_surveys_n` surveys."""
    if len(readings.days) < settings.least_surveys_n:
        raise ValueError(f"settling takes {settings.least_surveys_n} surveys, got {len(readings.days)}")
    if np.all(readings.days == readings.days[0]):
        raise ValueError("settling takes surveys of different days")
    from threadpoolctl import threadpool_limits

    with threadpool_limits(1):  # the matrices are small: more threads would only wait for one another
        return _fitted_to(readings, settings)


def _fitted_to(readings: Readings, settings: SettlingSettings) -> Settling:
    block, retuned = _arranged(readings, settings)
    usable = block.present.sum(axis=1) >= 2
    apart = np.arange(len(usable)) == _suspect(block)  # a slipping string would draw the law, and so excuse itself
    while True:
        solved = _sampled(some(block, usable & ~apart) if (usable & ~apart).any() else block, settings)
        rates, odds = slips(block, solved, settings)
        slipping = apart & (odds >= settings.slip_odds) & (rates < -settings.slip_cents_per_day)
        worst = int(np.argmax(np.where(apart, -np.inf, odds)))
        if odds[worst] < settings.slip_suspect_odds or apart.sum() >= max(1, settings.slips_most_share * usable.sum()):
            break
        apart[worst] = True
    return _summed_up(readings, block, solved, slipping, rates, retuned, settings)


def _suspect(block: Block) -> int:
    """The string that fell most in the later half of the surveys beside what its whole fall makes of the others."""
    same = (block.segments[:, :, 1:] & block.segments[:, :, :-1]).any(axis=1)
    steps = np.where(same, block.y[:, :-1] - block.y[:, 1:], 0.0)
    late = steps[:, steps.shape[1] // 2 :].sum(axis=1)
    whole = steps.sum(axis=1)
    share = float(np.median(late)) / max(float(np.median(whole)), np.finfo(float).eps)
    return int(np.argmax(late - min(max(share, 0.0), 1.0) * whole))


def _sampled(block: Block, settings: SettlingSettings) -> Solved:
    """Laws and constants in proportion to what the readings make of them."""
    law = any_law(settings)
    points = sample(
        lambda z: solve(block, law, z, settings).log_evidence,
        law.size + NUISANCES_N,
        particles_n=settings.particles_n,
        moves_n=settings.moves_n,
        last_n=settings.last_moves_n,
        trust=settings.trust,
        seed=settings.seed,
    )
    return solve(block, law, points, settings)


# --- arranging


def _arranged(readings: Readings, settings: SettlingSettings) -> tuple[Block, NDArray[np.bool_]]:
    """The block, and (N, J) whether a string was retuned before a survey."""
    cents, days = readings.cents, readings.days
    present = np.isfinite(cents)
    harp, starts = _stated(readings)
    found = _risen(readings, harp, settings)
    events = found | harp[None, :]
    number = np.cumsum(events, axis=1)
    segments = (number[:, None, :] == np.arange(number.max() + 1)[None, :, None]) & present[:, None, :]
    last_stated = np.maximum.accumulate(np.where(harp, np.arange(len(days)), -1))
    last_found = np.maximum.accumulate(np.where(found, np.arange(len(days))[None, :], -1), axis=1)
    tuned = (last_stated[None, :] >= 0) & (last_stated[None, :] > last_found)
    level = np.where((segments & tuned[:, None, :]).any(axis=2), settings.tuned_cents, settings.free_cents)
    spans = np.array([_span(y, inside) for y, inside in zip(cents, segments, strict=True)])
    materials = readings.materials or ("",) * len(cents)
    block = Block(
        y=np.where(present, cents, 0.0),
        noise=np.where(present, np.maximum(readings.u95_cents / 1.96, 0.05) ** 2, 1.0),
        present=present,
        segments=segments,
        starts=starts,
        level=level,
        days=days,
        common=(readings.common_u95_cents / 1.96) ** 2,
        spans=np.minimum(spans, settings.span_limit * float(np.median(spans))),
        groups=np.array([[m == group for m in materials] for group in sorted(set(materials))], dtype=float),
    )
    return block, events


def _span(cents: Vector, segments: NDArray[np.bool_]) -> float:
    """How far a string moved within a tuning, at most."""
    return max((float(np.ptp(cents[inside])) for inside in segments if inside.any()), default=0.0)


def _risen(readings: Readings, harp: NDArray[np.bool_], settings: SettlingSettings) -> NDArray[np.bool_]:
    """(N, J) whether a string rose before a survey as only a tuning raises it; where the whole harp did, all."""
    cents = readings.cents
    present = np.isfinite(cents)
    found = np.zeros(cents.shape, dtype=bool)
    weather = np.zeros(cents.shape[1])
    for m in range(1, cents.shape[1]):
        both = present[:, m] & present[:, m - 1]
        if harp[m] or not both.any():
            continue
        old, new = cents[both, m - 1], cents[both, m]
        whole = float(np.median(new - old))
        weather[m] = whole if 0.0 < whole <= settings.retuned_cents else 0.0
        if whole > settings.retuned_harp_cents and _toward_notes(old, new) > settings.retuned_share:
            found[present[:, m], m] = True
    for i in range(len(cents)):
        for k, m in itertools.pairwise(int(place) for place in np.flatnonzero(present[i])):
            room = math.hypot(readings.u95_cents[i, k], readings.u95_cents[i, m], settings.repluck_u95_cents)
            common = math.hypot(readings.common_u95_cents[k], readings.common_u95_cents[m]) + weather[m]
            rise = cents[i, m] - cents[i, k]
            found[i, m] |= not harp[m] and bool(rise > settings.retuned_cents + room + common)
    share = np.array([found[present[:, m], m].mean() if present[:, m].any() else 0.0 for m in range(cents.shape[1])])
    return found | ((share > settings.retuned_share) & ~harp)[None, :]


def _toward_notes(old: Vector, new: Vector) -> float:
    """By what share of their distances strings came nearer to their notes: 1 for a tuning, 0 for weather."""
    apart = old - old.mean()
    return float(-(new - old) @ apart / max(apart @ apart, np.finfo(float).tiny))


def _stated(readings: Readings) -> tuple[NDArray[np.bool_], Vector]:
    """(J,) whether the harp was said to be retuned before a survey, and the day of the last such retuning."""
    days, j = readings.days, len(readings.days)
    harp, starts = np.zeros(j, dtype=bool), np.zeros(j)
    for day in sorted(readings.retuned_days):
        after = [m for m in range(j) if days[m] > day]
        same = [m for m in range(j) if days[m] == day]
        first = after[0] if after else j
        if same and _near(readings.cents[:, same[-1]]) < _near(readings.cents[:, max(same[-1] - 1, 0)]):
            first = same[-1]
        if 0 < first < j:
            harp[first] = True
            starts[first:] = day
    return harp, starts


def _near(cents: Vector) -> float:
    """How far strings typically are from their notes."""
    return float(np.nanmedian(np.abs(cents))) if np.isfinite(cents).any() else math.inf


# --- what comes of it


def _summed_up(
    readings: Readings,
    block: Block,
    solved: Solved,
    slipping: NDArray[np.bool_],
    rates: Vector,
    retuned: NDArray[np.bool_],
    settings: SettlingSettings,
) -> Settling:
    draws = draw(block, solved, settings.draws_each_n, settings)
    days, drift = draws.settled(settings), draws.drift()
    week = draws.fall(np.array([draws.last_day + settings.stay_days]))[:, :, 0] - drift
    read = block.present.sum(axis=1) >= 2
    holding = ~slipping & read
    whole = days[holding].max(axis=0) if holding.any() else np.full(days.shape[1], np.nan)
    low, middle, high = np.quantile(whole, (0.05, 0.5, 0.95))
    every = _tune_every(draws, holding, settings)
    ending = float(np.mean(_ending(draws, settings)))
    strings = tuple(
        StringSettling(
            string=string,
            drift_cents=-float(drift[i].mean()) if read[i] else None,
            drift_u95_cents=1.96 * float(drift[i].std()) if read[i] else None,
            next_week_cents=-float(week[i].mean()) if holding[i] else None,
            next_week_u95_cents=1.96 * float(week[i].std()) if holding[i] else None,
            settled_day=_within(float(np.median(days[i])), settings) if holding[i] else None,
            slipping=bool(slipping[i]),
            slip_cents_per_day=None if np.isnan(rates[i]) else float(rates[i]),
            retuned=tuple(int(m) for m in np.flatnonzero(retuned[i])),
        )
        for i, string in enumerate(readings.strings)
    )
    share = retuned.mean(axis=0)
    common = draws.common.reshape(-1, len(block.days))
    return Settling(
        law="exponential" if ending >= 0.5 else "logarithmic",
        law_probability=max(ending, 1 - ending),
        settled_day=_within(float(middle), settings),
        settled_day_low=_within(float(low), settings),
        settled_day_high=_within(float(high), settings),
        tune_every_days=_within(float(np.median(every)), settings),
        tune_every_days_low=_within(float(np.quantile(every, 0.05)), settings),
        strings=strings,
        common_cents=tuple(float(v) for v in (common - common.mean(axis=1, keepdims=True)).mean(axis=0)),
        retuned_surveys=tuple(int(m) for m in np.flatnonzero(share > settings.retuned_share)),
        fitted_cents=_fitted(block, draws),
    )


def _ending(draws: Draws, settings: SettlingSettings) -> NDArray[np.bool_]:
    """(P,) whether creep comes to an end: less of it in the second half of the days than in the quarter before.

    By a logarithmic law it is as much, by a power more.
    """
    quarter, half, whole = (np.array([draws.last_day * share]) for share in (0.25, 0.5, 1.0))
    late, before = (moves(draws.solved, *ends)[0][:, 0] for ends in ((half, whole), (quarter, half)))
    ending: NDArray[np.bool_] = late < settings.ending_ratio * before
    return ending


def _within(day: float, settings: SettlingSettings) -> float | None:
    return day if day <= settings.horizon_days else None


def _tune_every(draws: Draws, holding: NDArray[np.bool_], settings: SettlingSettings) -> Vector:
    """(D,) how long after the last survey 95 % of the strings stay within the tolerance."""
    lengths = np.geomspace(0.25, 2 * settings.horizon_days, settings.lengths_n)
    fall = draws.fall(draws.last_day + lengths)[holding] - draws.drift()[holding][:, :, None]
    left = np.quantile(np.abs(fall), 0.95, axis=0) <= settings.tolerance_cents
    longest: Vector = lengths[np.maximum(left.sum(axis=1) - 1, 0)]
    return longest


def _fitted(block: Block, draws: Draws) -> tuple[tuple[float, ...], ...]:
    """The mean curve through each string's readings, segment by segment."""
    curve = (draws.fall(block.starts) - draws.fall(block.days)).mean(axis=1)
    rows = []
    for y, values, segments in zip(block.y, curve, block.segments, strict=True):
        line = np.full(len(values), np.nan)
        for inside in segments:
            if inside.any():
                line[inside] = values[inside] + float(np.mean(y[inside] - values[inside]))
        rows.append(tuple(float(v) for v in line))
    return tuple(rows)
