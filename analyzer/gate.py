"""A recorder that turns the sound down as it fades (a gate): how far, and the sound without it.

Task. A noise suppressor or a downward expander makes every decay come out too short. The recorder's hiss goes through
the same gain: it goes on falling with the sound, where under a fixed gain it stands still.

Method. A gate's gain is one function of the level before it, the same for every string, loud or soft; and before it the
level lies over the hiss by as much as after it. In narrow classes of that difference the lower quartile of the hiss of
all plucks is taken, which strings that cover the hiss by their own treble hardly move, and made a never falling curve
(isotonic regression: Barlow et al., Statistical Inference under Order Restrictions, 1972). It is a gate where that
curve explains the hiss within the typical pluck. Whatever else moves the hiss makes it rise while the difference falls:
treble or a room that covers it (it falls with the level, or faster), other noise, a gain that is turned up, a codec
that leaves it out where the sound is loud. Only noise that every pluck brings along and that dies away slowly would
look like a gate: so the curve must do better, in some plucks, than one that takes the time since the onset instead.

A gate that turns down by a limited amount is undone: the sound is divided by the curve at its level. What closes
altogether is lost: decays, beats and buzzes are read until the gate closes. Where the hiss of many plucks rises against
the curve, which no treble makes it do, the recorder turns its gain up as well: then the gain is the hiss itself,
smoothed.

Conventions. Gains in dB against the open gate; levels in dB re full scale, as recorded; times in seconds from the start
of the recording.

Known limits. Without hiss, or where the strings cover it, nothing is known. A gate that works band by band, and holds
the hiss's band down all the time, is not seen, nor is one beside a gain that rises as fast as the gate falls, nor one
that closes on most plucks before the hiss was heard through it. A gate that closes with a delay is no function of the
level alone: what the hiss strays from the curve goes into `doubt_db`, and so does what treble that covers the hiss adds
to it. Loud noise that plucks bring along unevenly, and that dies away over several seconds, may be taken for a gate.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.gain import GainTrack, inner_mean
from analyzer.level_rows import running_mean
from analyzer.meters import POWER_FLOOR, Levels
from analyzer.settings import GateSettings

Vector = NDArray[np.float64]
Frames = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """A gate over one recording."""

    depth_db: float
    """From where it is open to the least that is heard through it."""
    gain: GainTrack
    """All zero where the gate closes altogether: nothing of that can be undone."""
    ends_s: tuple[float, ...]
    """For each pluck: where it ends, or the gate closes altogether."""


def find(levels: Levels, onsets_s: Sequence[float], ends_s: Sequence[float], settings: GateSettings) -> Gate | None:
    """The gate that shows in the plucks (in time order; `ends_s` where each stops being usable), or None."""
    s = settings
    hiss_db = np.asarray(levels.hiss_db, dtype=float)
    at_s: Vector = np.asarray((np.arange(len(hiss_db)) + 0.5) * levels.hiss_step_s, dtype=float)
    level_db = _in_frames(levels, len(hiss_db))
    spans = [
        np.flatnonzero((at_s > onset_s + s.attack_s) & (at_s < end_s - s.guard_s))
        for onset_s, end_s in zip(onsets_s, ends_s, strict=True)
    ]
    plucks = [inside for inside in spans if len(inside) >= s.least_frames]
    over_db, early = level_db - hiss_db, np.zeros(len(hiss_db))
    for p in plucks:
        over_db[p] = level_db[p] - running_mean(hiss_db[p], s.smooth_frames)
        early[p] = (at_s[p[0]] - at_s[p]) * s.class_db / s.class_s
    curve, by_time = (_curve(plucks, by, hiss_db, s) for by in (over_db, early))
    if curve is None or by_time is None or curve[1][-1] < s.hiss_least_db:
        return None
    if not _explains(np.interp(over_db, *curve), np.interp(early, *by_time), hiss_db, plucks, s):
        return None
    gain_db = np.interp(level_db, curve[0] + curve[1], curve[1]) - curve[1][-1]
    depth_db = float(np.ptp(curve[1]))
    doubts_db = tuple(_doubt_db(p, level_db, hiss_db, gain_db, s) for p in spans)
    if depth_db > s.most_db:
        shut = [p[gain_db[p] < -s.closing_db] for p in spans]
        ends_s = [
            float(at_s[p[0]] - levels.hiss_step_s) if len(p) else end_s for p, end_s in zip(shut, ends_s, strict=True)
        ]
        gain_db = np.zeros(len(gain_db))
    elif np.mean([_rise_db(hiss_db[p] - gain_db[p], s) > s.turned_up_db for p in plucks]) > s.turned_up_share:
        gain_db = _followed(at_s, hiss_db, plucks, s)
    track = GainTrack(times_s=tuple(at_s.tolist()), gain_db=tuple(gain_db.tolist()), doubt_db=doubts_db)
    return Gate(depth_db=depth_db, gain=track, ends_s=tuple(ends_s))


def _in_frames(levels: Levels, count: int) -> Vector:
    """Level of the sound in each frame of the hiss, dB."""
    energy = np.concatenate([[0.0], np.cumsum(10 ** (np.asarray(levels.level_db, dtype=float) / 10))])
    edges = np.arange(count + 1) * levels.hiss_step_s / levels.step_s
    power = np.diff(np.interp(edges, np.arange(len(energy)), energy)) * levels.step_s / levels.hiss_step_s
    return np.asarray(10 * np.log10(np.maximum(power, POWER_FLOOR)))


def _curve(plucks: Sequence[Frames], over_db: Vector, hiss_db: Vector, s: GateSettings) -> tuple[Vector, Vector] | None:
    """(level over the hiss, hiss), never falling, of the classes that enough plucks pass through; None below two."""
    from scipy.optimize import isotonic_regression

    if not plucks:
        return None
    heard = np.concatenate(plucks)
    pluck = np.repeat(np.arange(len(plucks)), [len(one) for one in plucks])
    place = np.floor(over_db[heard] / s.class_db)
    classes = [
        (over_db[heard[inside]].mean(), np.quantile(hiss_db[heard[inside]], s.quantile), inside.sum())
        for inside in (place == k for k in np.unique(place))
        if len(np.unique(pluck[inside])) >= s.least_plucks
    ]
    if len(classes) < 2:
        return None
    middle_db, low_db, count = np.array(classes).T
    curve_db = np.asarray(isotonic_regression(low_db, weights=count).x)
    return middle_db, curve_db


def _explains(
    by_level_db: Vector, by_time_db: Vector, hiss_db: Vector, plucks: Sequence[Frames], s: GateSettings
) -> bool:
    """Whether the level moves the hiss, explains it in a typical pluck, and in some better than the time does."""
    moved = [p for p in plucks if np.std(by_level_db[p]) > s.moved_db]
    if len(moved) < s.least_plucks:
        return False
    left, left_by_time, all_of_it = (
        np.array([np.var(hiss_db[p] - expected_db[p]) for p in moved])
        for expected_db in (by_level_db, by_time_db, np.zeros(len(hiss_db)))
    )
    explained = left < (1 - s.explained) * all_of_it
    return bool(np.mean(explained) > 1 / 2 and np.mean(left < left_by_time) > s.beyond_time)


def _doubt_db(inside: Frames, level_db: Vector, hiss_db: Vector, gain_db: Vector, s: GateSettings) -> float:
    """How far the gain may have been another while a pluck fell by what its decay is read from."""
    if len(inside) < s.least_frames:
        return s.unknown_db
    dry_db = level_db[inside] - gain_db[inside]
    fallen = dry_db < dry_db[0] - s.read_db
    read = inside[: max(int(fallen.argmax()), s.smooth_frames)] if fallen.any() else inside
    stray_db = inner_mean(hiss_db[read] - gain_db[read], s.smooth_frames)
    return float(np.hypot(s.doubt * np.ptp(gain_db[read]), np.ptp(stray_db)))


def _rise_db(stray_db: Vector, s: GateSettings) -> float:
    """How far the hiss rises against a gain within a pluck."""
    smoothed = inner_mean(stray_db, s.smooth_frames)
    return float(np.max(smoothed - np.minimum.accumulate(smoothed)))


def _followed(at_s: Vector, hiss_db: Vector, plucks: Sequence[Frames], s: GateSettings) -> Vector:
    """The gain that the hiss alone shows: in each pluck smoothed, between them carried over."""
    shown_db = np.concatenate([running_mean(hiss_db[p], s.smooth_frames) for p in plucks])
    return np.asarray(np.interp(at_s, at_s[np.concatenate(plucks)], shown_db) - np.median(hiss_db))
