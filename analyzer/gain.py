"""A recorder that turns its gain up as a string fades: how far, and the sound without it.

Task. Automatic gain makes decays come out too long. The hiss of the recorder goes through the same gain, so that its
level over time shows the gain, as long as it is not covered by the strings' own treble.

Method. In the decay of a pluck the gain can only rise, and whatever covers the hiss (the string's treble) only fades:
the gain at a moment is the lowest level that the smoothed hiss has from then to the end of the pluck. Each pluck is
taken for itself; at the next one the gain falls within some 30 ms, under the attack. The sound is divided by it.

Conventions. Gains in dB against the recording's median; times in seconds from the start of the recording.

Known limits. A recorder that gates or filters its hiss away hides its gain: then there is no track, and decays are not
to be trusted beyond comparisons. Where the treble covers the hiss for a while, the rise during that time is missed:
`doubt_db` says by how much at most.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.meters import Levels
from analyzer.plucks import Floats, Sound
from analyzer.settings import GainSettings

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class GainTrack:
    """The gain over one recording."""

    times_s: tuple[float, ...]
    """Rising; between them the gain changes evenly in dB."""
    gain_db: tuple[float, ...]
    doubt_db: tuple[float, ...]
    """For each pluck: how much of the gain's rise may have been missed, dB."""


def track(
    levels: Levels, onsets_s: Sequence[float], ends_s: Sequence[float], settings: GainSettings
) -> GainTrack | None:
    """The gain from pluck to pluck (in time order; `ends_s` where each stops being usable), or None without hiss."""
    s = settings
    hiss = _smooth(np.asarray(levels.hiss_db, dtype=float), s.smooth_frames)
    at_s = (np.arange(len(hiss)) + 0.5) * levels.hiss_step_s
    if len(onsets_s) == 0 or len(hiss) == 0 or float(np.median(hiss)) < s.hiss_least_db:
        return None
    middle = float(np.median(hiss))
    times, gains, doubts = [], [], []
    stops_s = [*onsets_s[1:], max(float(at_s[-1]), ends_s[-1])]
    for onset_s, end_s, stop_s in zip(onsets_s, ends_s, stops_s, strict=True):
        inside = np.flatnonzero((at_s > onset_s + s.attack_s) & (at_s < end_s - s.guard_s))
        if len(inside) < s.least_frames:
            doubts.append(s.unknown_db)
            continue
        own = hiss[inside]
        rising = np.minimum.accumulate(own[::-1])[::-1]
        times += [onset_s, *at_s[inside], max(stop_s - s.fall_s, float(at_s[inside[-1]]))]
        gains += [rising[0] - middle, *(rising - middle), rising[-1] - middle]
        covered = own - rising > s.covered_db
        missed = int(np.flatnonzero(covered)[-1]) + 1 if covered.any() else 0
        steepest = s.steepest_db_per_s * missed * levels.hiss_step_s
        doubts.append(min(steepest, float(np.max(own - rising))) if missed else 0.0)
    if not times:
        return None
    order = np.maximum.accumulate(np.array(times))
    return GainTrack(times_s=tuple(order.tolist()), gain_db=tuple(float(g) for g in gains), doubt_db=tuple(doubts))


def _smooth(hiss_db: Vector, width: int) -> Vector:
    """Running mean of an odd number of frames, in dB: the band's own fluctuation."""
    if len(hiss_db) < width:
        return hiss_db
    padded = np.pad(hiss_db, width // 2, mode="edge")
    return np.convolve(padded, np.ones(width) / width, mode="valid")


class Levelled:
    """A sound with a gain taken out of it; reads like the sound itself."""

    def __init__(self, sound: Sound, rate_hz: int, gain: GainTrack) -> None:
        self._sound = sound
        self._rate_hz = rate_hz
        self._times_s = np.array(gain.times_s)
        self._gain_db = np.array(gain.gain_db)

    def __len__(self) -> int:
        return len(self._sound)

    def read(self, start: int, stop: int) -> Floats:
        """Samples `start` to `stop`; zero outside the recording."""
        at_s = np.arange(start, stop) / self._rate_hz
        gain_db = np.interp(at_s, self._times_s, self._gain_db)
        return np.asarray(self._sound.read(start, stop) * 10 ** (-gain_db / 20), dtype=np.float32)
