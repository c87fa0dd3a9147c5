"""Settling: how each string drifts after tuning, when the harp will hold, and which string never will.

Task: from three or more dated surveys of one harp, a curve of creep for every string with what it leaves open; from
that the day from which every string stays within the tolerance for a week, how often to tune, and the strings that keep
falling (a slipping pin, a slipping knot, a failing string: sound cannot tell which).

Conventions: days since the first survey; cents against one fixed reference for each string, so that a fall is negative;
standard deviations inside, half-widths of 95 % (surveys) or the named share outside.

Method. With g the law, c_i a string's drift up to the last survey, and u_j what all strings share at survey j (weather,
the recorder's clock), a reading is y_ij = a_i − c_i·g(t_j) + u_j + e_ij. Laws: logarithmic, g ~ ln(1 + t/τ), as
creep of polymers is commonly drawn (from memory), with the powers that tend to it; and exponential,
g ~ 1 − exp(−t/τ), with its stretched kin; no law was found published for harp strings. Strings of one harp share τ and
c_i ~ N(c, s²), which shrinks each toward the harp's own average. All is linear but the law, τ, s and the scatters,
which are tried on a grid; every point counts by its marginal likelihood, so that laws and constants are weighted by
evidence and not picked (Bayesian model averaging: Hoeting et al., Stat. Sci. 14 (1999) 382). Results are quantiles over
draws from that.

Retuning starts a string's a_i anew. One that was stated leaves it at its note; one that was not is found where strings
rise, which creep never does.

Known limits: weather that pulls strings apart from one another is only scatter here; a law unlike both is only allowed
for by a share of misfit; a string slipping at every survey alike cannot be told from one that creeps unlike the rest.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.creep import Block, Draws, Law, Point, Vector, drawn, finer, grid, slips, some
from analyzer.settings import SettlingSettings

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
    """The likelier law …"""
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
    slipping = np.zeros(len(readings.strings), dtype=bool)
    while True:
        points = grid(some(block, usable & ~slipping), settings)
        rates, deviations = slips(block, points, settings)
        falls = (deviations < -settings.slip_deviations) & (rates < -settings.slip_cents_per_day) & ~slipping
        if not falls.any() or (slipping | falls).mean() > settings.slips_most_share:
            break
        slipping |= deviations <= np.min(deviations[falls])  # the worst one first: it may have drawn the others
    points = finer(some(block, usable & ~slipping), points, settings)
    return _summed_up(readings, block, points, slipping, rates, retuned, settings)


# --- arranging


def _arranged(readings: Readings, settings: SettlingSettings) -> tuple[Block, NDArray[np.bool_]]:
    """The block, and (N, J) whether a string was retuned before a survey."""
    cents, days = readings.cents, readings.days
    n, j = cents.shape
    present = np.isfinite(cents)
    harp, starts = _stated(readings)
    found = np.zeros((n, j), dtype=bool)
    for i in range(n):
        seen = np.flatnonzero(present[i])
        for k, m in itertools.pairwise(seen):
            room = math.hypot(readings.u95_cents[i, k], readings.u95_cents[i, m])
            common = math.hypot(readings.common_u95_cents[k], readings.common_u95_cents[m])
            found[i, m] = cents[i, m] - cents[i, k] > settings.retuned_cents + room + common
    rises = np.array([found[present[:, m], m].mean() if present[:, m].any() else 0.0 for m in range(j)])
    whole = (rises > settings.retuned_share) & ~harp
    found |= whole[None, :]
    found[:, harp] = False
    events = found | harp[None, :]
    segments = np.cumsum(events.astype(np.int64), axis=1)
    last_stated = np.maximum.accumulate(np.where(harp, np.arange(j), -1))
    last_found = np.maximum.accumulate(np.where(found, np.arange(j)[None, :], -1), axis=1)
    tuned = (last_stated[None, :] >= 0) & (last_stated[None, :] > last_found)
    block = Block(
        y=np.where(present, cents, 0.0),
        noise=np.where(present, np.maximum(readings.u95_cents / 1.96, 0.05) ** 2, 1.0),
        present=present,
        segments=segments,
        starts=starts,
        tuned=tuned,
        days=days,
        common=(readings.common_u95_cents / 1.96) ** 2,
    )
    return block, events


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
    points: Sequence[Point],
    slipping: NDArray[np.bool_],
    rates: Vector,
    retuned: NDArray[np.bool_],
    settings: SettlingSettings,
) -> Settling:
    draws = drawn(block, points, settings)
    days = draws.settled(settings)
    read = block.present.sum(axis=1) >= 2
    holding = ~slipping & read
    whole = days[holding].max(axis=0) if holding.any() else np.full(days.shape[1], np.nan)
    low, middle, high = np.quantile(whole, (0.05, 0.5, 0.95))
    every = _tune_every(draws, holding, settings)
    week = draws.unit(draws.last_day, draws.last_day + settings.stay_days)
    logarithmic = float(draws.logarithmic.mean())
    strings = tuple(
        StringSettling(
            string=string,
            drift_cents=-float(draws.drift[i].mean()) if read[i] else None,
            drift_u95_cents=1.96 * float(draws.drift[i].std()) if read[i] else None,
            next_week_cents=-float((draws.drift[i] * week).mean()) if holding[i] else None,
            next_week_u95_cents=1.96 * float((draws.drift[i] * week).std()) if holding[i] else None,
            settled_day=_within(float(np.median(days[i])), settings) if holding[i] else None,
            slipping=bool(slipping[i]),
            slip_cents_per_day=None if np.isnan(rates[i]) else float(rates[i]),
            retuned=tuple(int(m) for m in np.flatnonzero(retuned[i])),
        )
        for i, string in enumerate(readings.strings)
    )
    share = retuned.mean(axis=0)
    return Settling(
        law="logarithmic" if logarithmic >= 0.5 else "exponential",
        law_probability=max(logarithmic, 1 - logarithmic),
        settled_day=_within(float(middle), settings),
        settled_day_low=_within(float(low), settings),
        settled_day_high=_within(float(high), settings),
        tune_every_days=_within(float(np.median(every)), settings),
        tune_every_days_low=_within(float(np.quantile(every, 0.05)), settings),
        strings=strings,
        common_cents=tuple(float(v) for v in (draws.common - draws.common.mean(axis=1, keepdims=True)).mean(axis=0)),
        retuned_surveys=tuple(int(m) for m in np.flatnonzero(share > settings.retuned_share)),
        fitted_cents=_fitted(block, draws),
    )


def _within(day: float, settings: SettlingSettings) -> float | None:
    return day if day <= settings.horizon_days else None


def _tune_every(draws: Draws, holding: NDArray[np.bool_], settings: SettlingSettings) -> Vector:
    """(D,) how long after the last survey 95 % of the strings stay within the tolerance."""
    size = np.quantile(np.abs(draws.drift[holding]), 0.95, axis=0)
    lengths = np.geomspace(0.25, 2 * settings.horizon_days, 60)
    left = np.array(
        [size * draws.unit(draws.last_day, draws.last_day + d) <= settings.tolerance_cents for d in lengths]
    )
    longest: Vector = lengths[np.maximum(left.sum(axis=0) - 1, 0)]
    return longest


def _fitted(block: Block, draws: Draws) -> tuple[tuple[float, ...], ...]:
    """The mean curve through each string's readings, segment by segment."""
    fall = np.array([draws.unit(start, day) for start, day in zip(block.starts, block.days, strict=True)])
    curve = -np.einsum("nd,jd->nj", draws.drift, fall) / draws.drift.shape[1]
    rows = []
    for i, values in enumerate(curve):
        line = np.full(len(values), np.nan)
        for segment in np.unique(block.segments[i]):
            inside = block.present[i] & (block.segments[i] == segment)
            if inside.any():
                line[inside] = values[inside] + float(np.mean(block.y[i, inside] - values[inside]))
        rows.append(tuple(float(v) for v in line))
    return tuple(rows)
