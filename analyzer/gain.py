"""A recorder that turns its gain up as a string fades: how far, and the sound without it.

Task. Automatic gain makes decays come out too long. The hiss of the recorder goes through the same gain, so that its
level over time shows the gain, as long as it is not covered by the strings' own treble.

Method. In the decay of a pluck the gain can only rise, and whatever covers the hiss (the string's treble) only fades:
where the smoothed hiss stands clearly above its lowest level from then to the end of the pluck, it is covered. The gain
is the never falling curve next to the rest of the hiss (isotonic regression: Barlow et al., Statistical Inference under
Order Restrictions, 1972). Under the attack, where it falls within some 30 ms, it is carried back from where it begins
to show, at the rate it rises there. Each pluck is taken for itself. The sound is divided by the gain.

Conventions. Gains in dB against the recording's median; times in seconds from the start of the recording.

Known limits. A recorder that filters its hiss away hides its gain: then there is no track, and decays are not to be
trusted beyond comparisons. Where the treble covers the hiss for a while, the rise during that time is missed:
`doubt_db` says by how much at most. A gate that turns down what fades looks like treble that covers the hiss: where
`gate` finds one, it is taken out before; where not, it stays in the sound.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.level_rows import running_mean
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
    """For each pluck: how much of the gain's rise may have been missed or is not known, dB."""


def track(
    levels: Levels, onsets_s: Sequence[float], ends_s: Sequence[float], settings: GainSettings
) -> GainTrack | None:
    """The gain from pluck to pluck (in time order; `ends_s` where each stops being usable), or None without hiss."""
    s = settings
    hiss = np.asarray(levels.hiss_db, dtype=float)
    at_s: Vector = np.asarray((np.arange(len(hiss)) + 0.5) * levels.hiss_step_s, dtype=float)
    if len(onsets_s) == 0 or len(hiss) == 0 or float(np.median(hiss)) < s.hiss_least_db:
        return None
    middle = float(np.median(hiss))
    spans = [
        np.flatnonzero((at_s > onset_s + s.attack_s) & (at_s < end_s - s.guard_s))
        for onset_s, end_s in zip(onsets_s, ends_s, strict=True)
    ]
    rises = [_rise(at_s[inside], hiss[inside], s) if len(inside) >= s.least_frames else None for inside in spans]
    if not any(rises):
        return None
    steepest = max(s.steepest_db_per_s, *(r.steepest_db_per_s for r in rises if r is not None))
    times, gains, doubts = [], [], []
    stops_s = [*onsets_s[1:], max(float(at_s[-1]), ends_s[-1])]
    for onset_s, stop_s, rise in zip(onsets_s, stops_s, rises, strict=True):
        if rise is None:
            doubts.append(s.unknown_db)
            continue
        fallen_s = onset_s + s.fallen_s
        first_db = float(rise.first.at(np.array([fallen_s]))[0])
        times += [onset_s, fallen_s, *rise.times_s, max(stop_s - s.fall_s, float(rise.times_s[-1]))]
        gains += [first_db - middle, first_db - middle, *(rise.gain_db - middle), rise.gain_db[-1] - middle]
        missed_db = min(steepest * rise.covered_s, rise.covered_db)
        doubts.append(float(np.hypot(missed_db, s.coverage * rise.first.deviation_db(fallen_s))))
    order = np.maximum.accumulate(np.array(times))
    return GainTrack(times_s=tuple(order.tolist()), gain_db=tuple(float(g) for g in gains), doubt_db=tuple(doubts))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """The gain about one end of what shows of it."""

    middle_s: float
    middle_db: float
    db_per_s: float
    scatter_db: float
    """Of the hiss about the gain."""
    count: int
    spread_s2: float
    """Sum of the squared times from the middle."""

    def at(self, times_s: Vector) -> Vector:
        return self.middle_db + self.db_per_s * (times_s - self.middle_s)

    def deviation_db(self, time_s: float) -> float:
        """Of the line's value there (Draper & Smith, Applied Regression Analysis, 3rd ed., 1.4)."""
        return self.scatter_db * float(np.sqrt(1 / self.count + (time_s - self.middle_s) ** 2 / self.spread_s2))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rise:
    """The gain in one pluck, where the hiss shows it."""

    times_s: Vector
    gain_db: Vector
    first: _Line
    """Where it begins to show: so it rose before."""
    steepest_db_per_s: float
    covered_s: float
    """Longest time that the string covers the hiss …"""
    covered_db: float
    """… and how far above it stands, at most."""


def _rise(at_s: Vector, hiss_db: Vector, s: GainSettings) -> _Rise:
    from scipy.optimize import isotonic_regression

    step_s = float(at_s[1] - at_s[0])
    smoothed = running_mean(hiss_db, s.smooth_frames)
    above = smoothed - np.minimum.accumulate(smoothed[::-1])[::-1]
    covered = above > s.covered_db
    clear = np.flatnonzero(~covered)
    times_s, shown_db = at_s[clear], hiss_db[clear]
    steps_db = np.asarray(isotonic_regression(shown_db).x)
    # From one frame to the next the gain hardly changes, so that differences show the hiss's own scatter.
    scatter_db = float(np.std(np.diff(shown_db)) / np.sqrt(2)) if len(shown_db) > 1 else s.unknown_db
    early, late = times_s <= times_s[0] + s.early_s, times_s >= times_s[-1] - s.early_s
    first, last = (_line(times_s[part], shown_db[part], scatter_db, s) for part in (early, late))
    beyond_s = step_s * np.arange(1, s.smooth_frames // 2 + 1)
    ends_db = first.at(times_s[0] - beyond_s[::-1]), last.at(times_s[-1] + beyond_s)
    gain_db = inner_mean(np.concatenate([ends_db[0], steps_db, ends_db[1]]), s.smooth_frames)
    apart = max(1, round(s.early_s / step_s))
    fastest = (gain_db[apart:] - gain_db[:-apart]) / (times_s[apart:] - times_s[:-apart])
    gaps = np.diff(np.concatenate([[-1], clear, [len(at_s)]])) - 1
    return _Rise(
        times_s=times_s,
        gain_db=gain_db,
        first=first,
        steepest_db_per_s=min(float(fastest.max(initial=0.0)), s.most_db_per_s),
        covered_s=float(gaps.max()) * step_s,
        covered_db=float(above.max()) if covered.any() else 0.0,
    )


def _line(times_s: Vector, shown_db: Vector, scatter_db: float, s: GainSettings) -> _Line:
    """A straight line whose slope counts as far as it stands out of its own doubt (James & Stein's positive part:
    Efron & Morris, J. Am. Stat. Assoc. 68 (1973) 117)."""
    middle_s = float(times_s.mean())
    apart_s = times_s - middle_s
    spread_s2 = max(float(apart_s @ apart_s), s.least_spread_s2)
    slope = float(apart_s @ shown_db) / spread_s2
    doubt = scatter_db**2 / spread_s2
    kept = max(0.0, 1 - doubt / slope**2) if slope > 0 else 0.0
    return _Line(
        middle_s=middle_s,
        middle_db=float(shown_db.mean()),
        db_per_s=min(kept * slope, s.most_db_per_s),
        scatter_db=scatter_db,
        count=len(times_s),
        spread_s2=spread_s2,
    )


def inner_mean(values_db: Vector, width: int) -> Vector:
    """Over an odd number of frames, in dB: less of the hiss band's own fluctuation."""
    return np.convolve(values_db, np.ones(width) / width, mode="valid")


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
