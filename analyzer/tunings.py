"""Readings of a harp over time, and where it was tuned in between.

Task: what the surveys say, and the days of tuning that the person named -> readings arranged for the model of creep,
each string's cut where it was tuned anew. A tuning that nobody named is found where strings rise: creep only falls, and
weather moves all strings alike and not toward their notes.
"""

import itertools
import math
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


def arranged(readings: Readings, settings: SettlingSettings) -> tuple[Block, NDArray[np.bool_]]:
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
