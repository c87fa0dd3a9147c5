"""Rattles and buzzes: high sound that is fed as long as a string swings far enough, and stops when it does not.

Task. From one pluck: whether something is struck by the string or shaken by it, with the figures that say so.

Method. What a string itself sends out in a band is a sum of decaying tones: over time its level in dB can bend
upwards, towards the slower ones, but not hold and then fall away. What is hit (a lever, a disc, a neighbour, a loose
winding or part) sounds as long as the string's swing reaches it, and then stops. So two things are asked of the bands
above the lower partials: how far their level rises above the straight line from the start to a later moment, in the
median over the bands, since a beat of two partials does that in one band at a time; and whether, until then, the sound
wavers in step with the string: once or twice in a period, or once in two. It must hold from the start: a knock that
comes later is none. What bends the lower partials' level alike (a
hand, a recorder's gain) is taken off.

Conventions. Times in seconds from the onset, levels in dB. Nothing is claimed of what it is that buzzes.

Known limits. A buzz as short as the attack, below the noise, or one that lasts as long as the pluck is heard, is not
found. Treble strings leave too little room above their partials. A recorder that is too loud makes the same of any
string: where it cut the sound off nothing is claimed (`judging`).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.plucks import Floats, Sound
from analyzer.schroeder import DB
from analyzer.settings import RattleSettings

Vector = NDArray[np.float64]
Table = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rattle:
    """What the high bands of one pluck do."""

    held_db: float
    """How far their level stands above the straight line of a decay before it falls away."""
    held_s: float
    """Until when it held."""
    fell_db: float
    """By how much it fell from then to `stopped_s`."""
    stopped_s: float
    locked_db: float
    """How clearly the sound until then wavers in step with the string, against wavering at any other rate."""
    locked_to: float
    """Beats of the sound in one period of the string: 0.5, 1 or 2."""
    from_hz: float

    def heard(self, s: RattleSettings) -> bool:
        """Whether that is a rattle."""
        return self.held_db >= s.least_held_db and self.locked_db >= s.least_locked_db


def find_rattle(
    sound: Sound, rate_hz: int, onset_s: float, end_s: float, pitch_hz: float, settings: RattleSettings
) -> Rattle | None:
    """Look at the pluck at `onset_s` (in the recording) that lasts `end_s` from there; None where too little is left to
    look at."""
    s = settings
    from_hz = max(s.lowest_hz, s.lowest_partial * pitch_hz)
    to_hz = min(s.highest_hz, s.highest_share * rate_hz)
    lead_n = round(s.lead_s * rate_hz)
    span_n = round(min(end_s - s.guard_s, s.most_s) * rate_hz)
    if from_hz * s.least_span > to_hz or span_n < s.least_s * rate_hz:
        return None
    start_n = round(onset_s * rate_hz) - lead_n
    samples = sound.read(start_n, start_n + lead_n + span_n)
    edges_hz = np.geomspace(from_hz, to_hz, s.bands + 1)
    power, power_rate_hz = _split(samples, rate_hz, np.concatenate([[s.low_share * pitch_hz], edges_hz]))
    step_n = round(s.step_s * power_rate_hz)
    window_n = round(max(s.window_s, s.window_periods / pitch_hz) * power_rate_hz)
    onset_n = round(s.lead_s * power_rate_hz)
    settled_n = onset_n + round(s.settled_s * power_rate_hz)
    levels = _levels_db(power, onset_n, settled_n, window_n, step_n, s)
    low, high = levels[0], levels[1:]
    clear = high[:, : s.smooth].mean(axis=1) > s.clear_db
    if clear.sum() < s.least_bands or high.shape[1] < s.least_frames:
        return None
    held_db, held, stopped = _held(high[clear], low, s)
    until_n = settled_n + max(held * step_n, s.least_periods * window_n)
    swell = np.sqrt(np.sum(power[1:][clear, settled_n:until_n], axis=0, dtype=np.float64))
    locked_db, locked_to = _locked(swell, power_rate_hz, pitch_hz, s)
    return Rattle(
        held_db=held_db,
        held_s=s.settled_s + held * s.step_s,
        fell_db=float(np.median(high[clear, held] - high[clear, stopped])),
        stopped_s=s.settled_s + stopped * s.step_s,
        locked_db=locked_db,
        locked_to=locked_to,
        from_hz=from_hz,
    )


def _split(samples: Floats, rate_hz: int, edges_hz: Vector) -> tuple[Floats, float]:
    """(power over time (bands, N) of the sound between each two edges, values a second): |z|² of its complex envelope,
    as fast as the widest band needs, by one Fourier transform and its inverse."""
    import scipy.fft

    size = scipy.fft.next_fast_len(len(samples), real=True)
    spectrum = scipy.fft.rfft(samples, size)
    first, *rest = (int(edge) for edge in np.ceil(edges_hz * size / rate_hz))
    length = scipy.fft.next_fast_len(2 * int(np.diff([first, *rest]).max()))
    lines = np.zeros((len(rest), length), spectrum.dtype)
    for band, last in enumerate(rest):
        lines[band, : last - first] = spectrum[first:last]
        first = last
    z = scipy.fft.ifft(lines, axis=1, overwrite_x=True)[:, : len(samples) * length // size]
    power: Floats = np.square(z.real)
    power += np.square(z.imag)
    power *= np.float32(2 * (length / size) ** 2)
    return power, rate_hz * length / size


def _levels_db(power: Floats, onset_n: int, settled_n: int, window_n: int, step_n: int, s: RattleSettings) -> Table:
    """(bands, K) levels above each band's own noise from the settled onset on, smoothed; 0 where it is in the noise."""
    after = _means(power, settled_n, power.shape[1], window_n, step_n)
    before = _means(power, 0, onset_n - step_n, window_n, step_n)
    quiet = np.quantile(after, s.quiet_share, axis=1)
    noise = np.maximum(np.minimum(np.median(before, axis=1), quiet), 1e-16)
    level = DB * np.log(np.maximum(after / noise[:, None] - 1, 1.0))
    padded = np.pad(level, ((0, 0), (s.smooth // 2, s.smooth // 2)), mode="edge")
    return np.asarray(np.lib.stride_tricks.sliding_window_view(padded, s.smooth, axis=1).mean(axis=2))


def _means(power: Floats, first: int, last: int, window_n: int, step_n: int) -> Table:
    """(bands, K) means over windows `step_n` apart that begin at `first` and end by `last`, at least one."""
    starts = np.arange(first, max(last - window_n, first + 1), step_n)
    ends = np.minimum(starts + window_n, power.shape[1])
    edges = np.union1d(starts, ends)
    between = np.add.reduceat(power[:, : edges[-1]], edges[:-1], axis=1, dtype=np.float64)
    sums = np.concatenate([np.zeros((len(power), 1)), np.cumsum(between, axis=1)], axis=1)
    return np.asarray((sums[:, np.searchsorted(edges, ends)] - sums[:, np.searchsorted(edges, starts)]) / window_n)


def _held(high: Table, low: Vector, s: RattleSettings) -> tuple[float, int, int]:
    """(dB above the straight line, frame where it stands so, frame the line goes to), of the clearest such line."""
    best = (0.0, 0, 0)
    for last in range(s.least_frames - 1, high.shape[1]):
        share = np.arange(1, last) / last

        def above(level: Vector, last: int = last, share: Vector = share) -> Vector:
            start, end = level[..., :1], level[..., last : last + 1]
            return np.asarray(level[..., 1:last] - start - (end - start) * share)

        stands = np.median(above(high), axis=0) - np.maximum(above(low), 0.0)
        top = int(stands.argmax())
        if stands[top] > best[0] and stands[:top].min(initial=0.0) > -s.most_dip_db:
            best = (float(stands[top]), top + 1, last)
        if np.mean(high[:, last] < s.gone_db) > 0.5:
            break
    return best


def _locked(swell: Vector, rate_hz: float, pitch_hz: float, s: RattleSettings) -> tuple[float, float]:
    """(dB, beats in a period): how far the envelope's line at the string's rate stands above the lines about it."""
    size = s.padding * len(swell)
    power = np.abs(np.fft.rfft((swell - swell.mean()) * np.hanning(len(swell)), size)) ** 2
    at_hz = np.fft.rfftfreq(size, 1 / rate_hz)
    width_hz = max(s.line_hz, s.line_bins * rate_hz / len(swell))
    found = []
    for beats in (0.5, 1.0, 2.0):
        off_hz = np.abs(at_hz - beats * pitch_hz)
        line, around = off_hz < width_hz, (off_hz < s.around * min(beats, 1.0) * pitch_hz) & (off_hz >= width_hz)
        if line.any() and around.any():
            found.append((float(DB * np.log(power[line].max() / max(np.median(power[around]), 1e-30))), beats))
    return max(found, default=(0.0, 1.0))
