"""Readings of a harp over time, and where it was tuned in between.

Task: what the surveys say, and the days of tuning that the person named -> readings arranged for the model of creep,
each string's cut where it was tuned anew.

Method. A harp is tuned as a whole: all strings come to their notes together, as near as a tuner leaves them, however
far each had fallen. So a tuning that nobody named is first suspected where strings lie closer together after a gap than
the gap moved them apart (`suspected`), and then weighed by the model of creep (`retuning`), with and without it. What
is left is found string by string, where one rises: creep only falls, and weather moves all strings alike.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.creep import Block, Vector
from analyzer.settings import SettlingSettings


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
class Tuning:
    """One retuning of the whole harp."""

    survey: int
    """Index of the first survey after it."""
    day: float
    """When it was done, as far as it is known."""


def arranged(
    readings: Readings, tunings: Sequence[Tuning], settings: SettlingSettings
) -> tuple[Block, NDArray[np.bool_]]:
    """The block, and (N, J) whether a string was retuned before a survey: by the `tunings`, or where it rose."""
    cents, days = readings.cents, readings.days
    present = np.isfinite(cents)
    harp, starts = np.zeros(len(days), dtype=bool), np.zeros(len(days))
    for tuning in sorted(tunings, key=lambda t: t.survey):
        harp[tuning.survey] = True
        starts[tuning.survey :] = tuning.day
    found = _risen(readings, harp, settings)
    events = found | harp[None, :]
    number = np.cumsum(events, axis=1)
    segments = (number[:, None, :] == np.arange(number.max() + 1)[None, :, None]) & present[:, None, :]
    last_harp = np.maximum.accumulate(np.where(harp, np.arange(len(days)), -1))
    last_found = np.maximum.accumulate(np.where(found, np.arange(len(days))[None, :], -1), axis=1)
    tuned = (last_harp[None, :] >= 0) & (last_harp[None, :] > last_found)
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


def stated(readings: Readings) -> tuple[Tuning, ...]:
    """The retunings that the person named; on the day of a survey, before or after it by what it shows."""
    days = readings.days
    found: dict[int, Tuning] = {}
    for day in sorted(readings.retuned_days):
        before = int(np.searchsorted(days, day))  # surveys before the day
        until = int(np.searchsorted(days, day, side="right"))
        if until == before:
            first = before
        else:
            possible = [m for m in (before, until) if m not in found]
            ratios = {m: _gathered(readings, m) for m in possible if 0 < m < len(days)}
            first = min(ratios, key=ratios.__getitem__, default=0)
            if len(ratios) < len(possible) and ratios.get(first, 1.0) >= 1.0:
                first = 0  # tuned before the first recording, or after the last
        if 0 < first < len(days):
            found[first] = Tuning(survey=first, day=day)
    return tuple(found.values())


def suspected(readings: Readings, settings: SettlingSettings) -> tuple[int, ...]:
    """Surveys (index) before which the whole harp may have been retuned, the likeliest first."""
    ratios = {m: _gathered(readings, m) for m in range(1, len(readings.days))}
    return tuple(m for m in sorted(ratios, key=ratios.__getitem__) if ratios[m] < settings.gathered_ratio)


def _gathered(readings: Readings, m: int) -> float:
    """How far strings lie apart at a survey, over how far they moved apart since the one before it.

    About their materials' medians, half of the strings (the median): about 0.5 after a tuning, 2 and more without.
    """
    old, new = readings.cents[:, m - 1], readings.cents[:, m]
    both = np.isfinite(old) & np.isfinite(new)
    materials = np.array(readings.materials or ("",) * len(old))
    apart: list[float] = []
    moved: list[float] = []
    for material in sorted(set(materials[both])):
        chosen = both & (materials == material)
        for values, into in ((new[chosen], apart), ((new - old)[chosen], moved)):
            into.extend(np.abs(values - np.median(values)))
    if not apart:
        return math.inf
    return float(np.median(apart)) / max(float(np.median(moved)), np.finfo(float).tiny)


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
        whole = float(np.median(cents[both, m] - cents[both, m - 1]))
        weather[m] = whole if 0.0 < whole <= settings.retuned_cents else 0.0
    for i in range(len(cents)):
        for k, m in itertools.pairwise(int(place) for place in np.flatnonzero(present[i])):
            room = math.hypot(readings.u95_cents[i, k], readings.u95_cents[i, m], settings.repluck_u95_cents)
            common = math.hypot(readings.common_u95_cents[k], readings.common_u95_cents[m]) + weather[m]
            rise = cents[i, m] - cents[i, k]
            found[i, m] |= not harp[m] and bool(rise > settings.retuned_cents + room + common)
    share = np.array([found[present[:, m], m].mean() if present[:, m].any() else 0.0 for m in range(cents.shape[1])])
    return found | ((share > settings.retuned_share) & ~harp)[None, :]
