"""Where each string sounds: a recording's samples to the moments at which something new begins.

Task. Find every pluck, soft ones and ones among ringing neighbours included, with one pass over the sound. What else
begins suddenly (a knock, a syllable) is found too; `evidence` tells a string from it and `matching` decides.

Method. The short-time spectrum in dB above each band's own noise, limited to a range (so that loudness counts for
little), against the largest value that the same band had 35 to 70 ms before: a string that starts raises many bands
at once, one that rings on raises none (spectral flux with a maximum filter against the trembling of ringing partials:
Böck & Widmer, DAFx 2013). Peaks of the mean rise, of all bands or of the low ones, are
onsets; each is then placed within a few milliseconds at the steepest rise of the pre-emphasised energy.

Conventions. Samples are mono float at `rate_hz`; times are seconds from the start of the recording; levels are dB
below full scale. Memory: one block at a time and one number a frame.

Known limits. Two strings plucked within `apart_s` are one event. A string plucked so softly that it raises fewer
bands than the noise itself does is missed. What rises too little to be an event, yet clearly more than anything else
around it, is kept apart as faint (`find_onsets`): about where it is, and nothing else is known of it.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from analyzer.settings import PluckSettings

Floats = NDArray[np.float32]


class Sound(Protocol):
    """Mono samples that can be read in parts."""

    def __len__(self) -> int: ...

    def read(self, start: int, stop: int) -> Floats:
        """Samples `start` to `stop`; zero outside the recording."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pluck:
    """A moment at which something new sounds."""

    onset_s: float
    end_s: float
    """Start of the next event, or the end of the recording."""
    strength_db: float
    """Mean rise over all bands, dB (of at most `PluckSettings.range_db`)."""
    level_db: float
    """RMS of the first fifth of a second, dB below full scale."""
    rise_db: float
    """Loudest 20 ms just after the onset against the loudest just before it, dB: of the sound or of its slope (which
    leaves out a bass string ringing on), whichever rises more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Onsets:
    """What begins in a recording, in time order."""

    plucks: tuple[Pluck, ...]
    faint_s: tuple[float, ...]
    """Moments at which something rises too little to be taken for a pluck, within some 20 ms."""


def find_onsets(sound: Sound, rate_hz: int, settings: PluckSettings) -> Onsets:
    """Every event of the recording, and what is too faint to be one; neither where nothing begins."""
    if len(sound) < settings.window:
        return Onsets(plucks=(), faint_s=())
    flux, low = np.concatenate(list(_flux_blocks(sound, rate_hz, settings)), axis=1)
    apart = round(settings.apart_s * rate_hz / settings.hop)
    frames = _peaks(flux, apart, _least_rise_db(flux, settings))
    bass = _peaks(low, apart, settings.bass_rise_db)
    frames = sorted(frames + [i for i in bass if min((abs(i - k) for k in frames), default=apart + 1) > apart])
    around = round(settings.faint_around_s * rate_hz / settings.hop)
    faint_s = tuple(_middle_s(i, rate_hz, settings) for i in _faint(flux, frames, apart, around, settings))
    onsets = [_steepest(sound, _middle_s(i, rate_hz, settings), rate_hz, settings) for i in frames]
    ends = [*onsets[1:], len(sound) / rate_hz]
    plucks = tuple(
        _describe(sound, onset_s, max(end_s, onset_s), float(flux[i]), rate_hz)
        for i, onset_s, end_s in zip(frames, onsets, ends[: len(onsets)], strict=True)
    )
    return Onsets(plucks=plucks, faint_s=faint_s)


def _middle_s(frame: int, rate_hz: int, s: PluckSettings) -> float:
    return (frame * s.hop + s.window / 2) / rate_hz


def _spectra_db(sound: Sound, start: int, count: int, s: PluckSettings) -> Floats:
    """(count, bins) power spectra in dB of frames `s.hop` apart, the first at sample `start`."""
    import scipy.fft

    block = sound.read(start, start + (count - 1) * s.hop + s.window)
    frames = np.lib.stride_tricks.sliding_window_view(block, s.window)[:: s.hop]
    spectrum = scipy.fft.rfft(frames * _hann(s.window), axis=1)
    level: Floats = np.square(spectrum.real)  # power at first; all in place, since most of the time goes into memory
    level += np.square(spectrum.imag)
    level += np.float32(1e-12)
    np.log10(level, out=level)
    level *= np.float32(10)
    return level


@lru_cache(maxsize=4)
def _hann(length: int) -> Floats:
    return np.hanning(length).astype(np.float32)


def _floor_db(sound: Sound, s: PluckSettings) -> Floats:
    """(bins,) level that the noise of each band rarely exceeds, from frames spread over the recording."""
    total = (len(sound) - s.window) // s.hop + 1
    runs = max(1, s.floor_frames // s.floor_run)
    starts = np.unique(np.linspace(0, max(0, total - s.floor_run), runs).astype(int))
    count = min(s.floor_run, total)
    sample = np.concatenate([_spectra_db(sound, int(i) * s.hop, count, s) for i in starts])
    by_band = np.ascontiguousarray(sample.T)  # sorting runs along memory
    return _percentile(by_band, s.floor_percentile) + np.float32(s.floor_margin_db)


def _percentile(rows: Floats, percent: float) -> Floats:
    """(N,) of each of the rows (N, K), by one sorting to either side where numpy's own takes three."""
    place = (rows.shape[1] - 1) * percent / 100
    last = min(int(place) + 1, rows.shape[1] - 1)
    halves = np.partition(rows, last, axis=1)
    low, high = halves[:, : int(place) + 1].max(axis=1), halves[:, last]
    return np.asarray(low + (high - low) * np.float32(place - int(place)), np.float32)


def _flux_blocks(sound: Sound, rate_hz: int, s: PluckSettings) -> Iterator[Floats]:
    """(2, block) mean rise in dB of each frame against the frames before it: of all bands, of the low ones."""
    low = round(s.bass_below_hz * s.window / rate_hz)
    floor = _floor_db(sound, s)
    total = (len(sound) - s.window) // s.hop + 1
    for first in range(0, total, s.block_frames):
        count = min(s.block_frames, total - first)
        start = (first - s.lag_last) * s.hop
        above = _spectra_db(sound, start, count + s.lag_last, s)
        above -= floor
        np.clip(above, 0, s.range_db, out=above)
        before = above[:count]
        for lag in range(s.lag_first, s.lag_last):
            before = np.maximum(before, above[s.lag_last - lag : s.lag_last - lag + count])
        rise = above[s.lag_last :] - before
        np.maximum(rise, 0, out=rise)
        yield np.stack([rise.mean(axis=1), rise[:, :low].mean(axis=1)])


def _least_rise_db(flux: Floats, s: PluckSettings) -> float:
    """What a pluck must reach here: little where the noise is steady and the plucks hardly louder than it."""
    usual_db = s.noise_rises * float(np.percentile(flux, s.noise_percentile))
    return min(max(usual_db, s.quiet_rise_db), s.least_rise_db)


def _peaks(flux: Floats, apart: int, least_db: float) -> list[int]:
    """Frames whose rise is the largest within `apart` frames on either side and at least `least_db`."""
    padded = np.pad(flux, apart)
    around = np.lib.stride_tricks.sliding_window_view(padded, 2 * apart + 1).max(axis=1)
    found = np.flatnonzero((flux == around) & (flux >= least_db))
    return [int(i) for k, i in enumerate(found) if k == 0 or i - found[k - 1] > apart]


def _faint(flux: Floats, found: list[int], apart: int, around: int, s: PluckSettings) -> list[int]:
    """Frames of peaks that stand out of what lies around them, plucks and the peaks themselves left out."""
    quiet = np.ones(len(flux), dtype=bool)
    for i in found:
        quiet[max(0, i - apart) : i + apart + 1] = False
    faint = []
    for i in _peaks(np.where(quiet, flux, np.float32(0)), apart, s.faint_least_db):
        first = max(0, i - around)
        near = quiet[first : i + around + 1].copy()
        near[max(0, i - apart - first) : i + apart + 1 - first] = False
        others = flux[first : i + around + 1][near]
        rank = int((len(others) - 1) * s.faint_percentile / 100)
        if len(others) and flux[i] >= s.faint_rises * np.partition(others, rank)[rank]:
            faint.append(i)
    return faint


def _steepest(sound: Sound, near_s: float, rate_hz: int, s: PluckSettings) -> float:
    """The moment within `settle_s` of `near_s` at which the pre-emphasised energy rises most, seconds."""
    start = max(0, round((near_s - s.settle_s) * rate_hz))
    block = np.diff(sound.read(start, round((near_s + s.settle_s) * rate_hz)).astype(np.float64))
    whole = len(block) // s.step * s.step
    energy = (block[:whole].reshape(-1, s.step) ** 2).mean(axis=1) + 1e-14
    past = s.step_past
    if len(energy) <= past + 1:
        return near_s
    before = np.lib.stride_tricks.sliding_window_view(energy[:-1], past).mean(axis=1)[:-1]
    after = np.maximum(energy[past:-1], energy[past + 1 :])
    return (start + (past + int(np.argmax(after / before))) * s.step) / rate_hz


def _describe(sound: Sound, onset_s: float, end_s: float, strength_db: float, rate_hz: int) -> Pluck:
    step = rate_hz // 50
    at = round(onset_s * rate_hz)
    block = sound.read(at - 3 * step - 1, at + 10 * step).astype(np.float64)
    rises_db = []
    for x in (block[1:], np.diff(block)):
        steps_db = 10 * np.log10((x.reshape(13, step) ** 2).mean(axis=1) + 1e-13)
        rises_db.append(float(steps_db[3:6].max() - steps_db[:2].max()))
    rise_db = max(rises_db)
    level_db = float(10 * np.log10((block[3 * step + 1 :] ** 2).mean() + 1e-12))
    return Pluck(onset_s=onset_s, end_s=end_s, strength_db=strength_db, level_db=level_db, rise_db=rise_db)
