"""A recording's sound without what its recorder did to the level: first a gate is taken out, then automatic gain.

Composition only: `gate` and `gain` do the work.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analyzer.checkup import gain_lift_db
from analyzer.gain import Levelled, track
from analyzer.gate import find
from analyzer.meters import Levels
from analyzer.plucks import Sound
from analyzer.settings import Settings


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """What a recording's strings are measured from."""

    sound: Sound
    ends_s: tuple[float, ...]
    """For each string's pluck: until when it is heard, which a gate may close on; its pitch is read beyond."""
    doubts_db: tuple[float, ...]
    """For each: how far the gain may have been another meanwhile."""
    gate_db: float | None
    """How far a gate turns down; None where none shows."""


def levelled(
    sound: Sound,
    rate_hz: int,
    levels: Levels,
    onsets_s: Sequence[float],
    ends_s: Sequence[float],
    settings: Settings,
) -> Level:
    """The sound, levelled; `onsets_s`, `ends_s`: start of each string's pluck, in time order, and its end."""
    doubts_db = np.zeros(len(onsets_s))
    gate = find(levels, onsets_s, ends_s, settings.gate)
    if gate is not None:
        sound, ends_s = Levelled(sound, rate_hz, gate.gain), gate.ends_s
        levels = replace(levels, hiss_db=levels.hiss_db - np.array(gate.gain.gain_db, np.float32))
        doubts_db = np.array(gate.gain.doubt_db)
    lift_db = gain_lift_db(levels, onsets_s, ends_s, settings.recording)
    if lift_db is not None and lift_db >= settings.recording.gain_lift_db:
        gain = track(levels, onsets_s, ends_s, settings.gain)
        sound = sound if gain is None else Levelled(sound, rate_hz, gain)
        doubts_db = np.hypot(doubts_db, settings.gain.unknown_db if gain is None else gain.doubt_db)
    return Level(
        sound=sound,
        ends_s=tuple(ends_s),
        doubts_db=tuple(doubts_db.tolist()),
        gate_db=None if gate is None else gate.depth_db,
    )
