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
interval, which holds 90 % of the draws (`forecast`). The day named is the likeliest, near which most draws lie, and not
their median: where the law is open, draws reach far to the late side and drag that along.

Retuning starts a string's a_i anew and leaves it at its note; the harp's retunings are stated or found (`retuning`).

Known limits: in simulations (`tests/bench/settling`) the day was within 2 days for 7 harps in 10, for 7 to 9 of those
that had settled when last surveyed; 90 % intervals held it on 89 to 96 in 100, less often with a flow that never ends.
One who knows that the law is one of those simulated comes within 2 days for 8 in 10. Days are those of creep alone,
weather apart. Weather that goes one way for weeks is taken for creep; a harp that is far from settled at the last
survey has a wide interval, because laws that fit alike so far part after it, and the day named is then seldom right; a
retuning is taken to begin no new creep.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analyzer.creep import Block, Solved, Vector, any_law, moves, some
from analyzer.forecast import Draws, draw, likeliest, sampled
from analyzer.retuning import tunings
from analyzer.settings import SettlingSettings
from analyzer.slipping import slips
from analyzer.tunings import Readings, arranged

Law = Literal["logarithmic", "exponential"]

_DEFAULTS = SettlingSettings()


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
    """The likeliest day from which it stays within the tolerance for `stay_days`; None when past the horizon."""
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
    """The likeliest day, since the first survey, from which every string that does not slip stays within the tolerance
    for `stay_days`, weather apart; None when more likely past the horizon than near any one day."""
    settled_day_low: float | None
    settled_day_high: float | None
    """Ends of its 90 % interval, 5 % on either side; None when past the horizon."""
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
    block, retuned = arranged(readings, tunings(readings, settings), settings)
    usable = block.present.sum(axis=1) >= 2
    apart = np.arange(len(usable)) == _suspect(block)  # a slipping string would draw the law, and so excuse itself
    most = max(1, int(settings.slips_most_share * usable.sum()))
    while True:
        solved = _sampled(some(block, usable & ~apart) if (usable & ~apart).any() else block, settings)
        rates, odds = slips(block, solved, settings)
        suspect = ~apart & (odds >= settings.slip_suspect_odds)
        likeliest = np.argsort(np.where(suspect, -odds, np.inf), kind="stable")[: most - int(apart.sum())]
        if not suspect.any() or not len(likeliest):
            break
        apart[likeliest[suspect[likeliest]]] = True
    slipping = apart & (odds >= settings.slip_odds) & (rates < -settings.slip_cents_per_day)
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
    return sampled(
        block,
        any_law(settings),
        settings,
        particles_n=settings.particles_n,
        moves_n=settings.moves_n,
        last_n=settings.last_moves_n,
    )[0]


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
    low, high = np.quantile(whole, (0.05, 0.95))
    every = _tune_every(draws, holding, settings)
    ending = float(np.mean(_ending(draws, settings)))
    strings = tuple(
        StringSettling(
            string=string,
            drift_cents=-float(drift[i].mean()) if read[i] else None,
            drift_u95_cents=1.96 * float(drift[i].std()) if read[i] else None,
            next_week_cents=-float(week[i].mean()) if holding[i] else None,
            next_week_u95_cents=1.96 * float(week[i].std()) if holding[i] else None,
            settled_day=_within(likeliest(days[i], settings), settings) if holding[i] else None,
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
        settled_day=_within(likeliest(whole, settings), settings),
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
