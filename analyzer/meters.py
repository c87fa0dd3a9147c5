"""Meters: what is measured of a recording while it streams past, before any pluck is known.

Task: peak and clipping at the file's own rate, level over time, hiss over time, mains hum, bandwidth,
dropouts.

Conventions: levels are dB re full scale as RMS (a full-scale sine reads -3); times in seconds; `source` is
the file's own rate, `analysis` the rate after resampling. Memory grows by about 20 kB a second of sound or
less.

Method:
- Noise floor: a low percentile of the RMS of short frames, each about its own mean (so that an offset is no
  noise).
- Hum: a low percentile over time of each bin of long spectra. What is always there stands out, strings that
  come and go do not; a tone also has to keep its level and lie on a multiple of 50 or 60 Hz.
- Bandwidth: the highest band that carries sound; where the spectrum falls off a cliff (codec, low rate) the
  cliff.
- Hiss: the level of a band high enough for strings to die in it at once. Under a fixed gain it stands still
  between plucks; where the recorder turns its gain up in quiet moments, it swells, and through a gate it falls.
- Clipping: runs of samples at full scale; or, of a signal clipped first and turned down later, many runs at one and the
  same level that nothing exceeds: tops of sound are as high as one another once or twice, and hardly ever flat.

Limits: hum is not looked for in less than a few seconds; a recorder that filters the hiss away
hides its gain.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.settings import RecordingSettings

Floats = NDArray[np.float32]

POWER_FLOOR = 1e-15
"""Keeps logarithms finite: -150 dB, below what 24 bits hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """Level over time, at the analysis rate."""

    step_s: float
    """Frame k of `level_db` spans [k, k + 1)·step_s."""
    level_db: Floats
    """RMS of each frame, dB re full scale."""
    hiss_step_s: float
    hiss_db: Floats
    """Level of the hiss band in each of its own frames, dB per Hz."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """All readings of one recording."""

    peak_db: float
    loud_db: float
    """RMS that 1 frame in 20 exceeds."""
    noise_floor_db: float
    bandwidth_hz: float
    cliff: bool
    """True where a codec or the rate cuts the spectrum off at `bandwidth_hz`."""
    hum_hz: float | None
    hum_db: float | None
    clipped_n: int
    """Samples cut off, in runs …"""
    clipped_at_s: tuple[float, ...]
    """… where: one time for each place …"""
    clipped_db: float
    """… and at what level."""
    gaps_s: tuple[tuple[float, float], ...]
    """(start, end) of each dropout."""
    mended_n: int
    """Samples that were no numbers and were read as zero."""
    levels: Levels


class _Framer:
    """Cuts a stream of arrays into frames of one size."""

    def __init__(self, size: int) -> None:
        self.size = size
        self._rest: Floats = np.empty(0, np.float32)

    def cut(self, block: Floats) -> Floats:
        """Whole frames so far, shape (frames, size)."""
        joined = np.concatenate((self._rest, block)) if len(self._rest) else block
        whole = len(joined) // self.size * self.size
        self._rest = joined[whole:].copy()
        return joined[:whole].reshape(-1, self.size)


class _Clips:
    """Runs of samples at a level."""

    def __init__(self, settings: RecordingSettings, rate_hz: int) -> None:
        self._settings, self._rate_hz = settings, rate_hz
        self.samples_n = 0
        self.places_s: list[float] = []

    def find(self, block: Floats, level: float, run_n: int, before_n: int) -> None:
        """Count runs of at least `run_n` samples from `level` on in any channel of the block, which comes after
        `before_n` samples, and note where."""
        for channel in level <= np.abs(block).T:
            edges = np.flatnonzero(np.diff(channel.astype(np.int8), prepend=0, append=0))
            starts, lengths = edges[::2], edges[1::2] - edges[::2]
            long = lengths >= run_n
            self.samples_n += int(lengths[long].sum())
            for start in starts[long]:
                at_s = (before_n + int(start)) / self._rate_hz
                if not self.places_s or abs(at_s - self.places_s[-1]) > self._settings.clip_place_s:
                    self.places_s.append(at_s)


class Meters:
    """Fed block by block by the reader; `finish` gives the readings."""

    def __init__(self, source_rate_hz: int, settings: RecordingSettings) -> None:
        self._settings = settings
        self._source_rate_hz = source_rate_hz
        rate_hz = settings.rate_hz
        self.peak = 0.0
        self._source_n = 0
        self._mended_n = 0
        self._clips = _Clips(settings, source_rate_hz)
        self._flat_tops = _Clips(settings, source_rate_hz)
        self._step_n = round(settings.level_step_s * rate_hz)
        self._level = _Framer(self._step_n)
        self._power: list[Floats] = []
        self._mean: list[Floats] = []
        self._hiss = _Spectra(settings.hiss_frame_n, rate_hz)
        top_hz = min(settings.hiss_highest_hz, settings.usable_nyquist * source_rate_hz / 2)
        self._hiss_band = slice(self._hiss.bin(settings.hiss_share * top_hz), self._hiss.bin(top_hz))
        self._hiss_power: list[Floats] = []
        self._hum = _Spectra(2 ** round(np.log2(rate_hz / settings.hum_resolution_hz)), rate_hz)
        self._hum_power: list[Floats] = []
        self._wide = _Spectra(2 ** round(np.log2(source_rate_hz / settings.band_resolution_hz)), source_rate_hz)
        self._band_n = max(1, round(settings.band_hz / self._wide.spacing_hz))
        self._strong: list[Floats] = []
        self._quiet: list[Floats] = []

    def mend(self, block: Floats) -> Floats:
        """The block with whatever is no sane sample (not a number, infinite, absurdly large) as zero."""
        peak = float(np.abs(block).max())
        if not peak <= self._settings.absurd_sample:
            bad = ~(np.abs(block) <= self._settings.absurd_sample)
            self._mended_n += int(np.count_nonzero(bad))
            block = np.where(bad, np.float32(0), block)
            peak = float(np.abs(block).max())
        s, before = self._settings, self.peak
        self.peak = max(before, peak)
        if peak >= s.clip_level:
            self._clips.find(block, s.clip_level, s.clip_run_n, self._source_n)
        if peak >= max(before - s.flat_step, s.flat_least):
            if peak > before + s.flat_step:
                self._flat_tops = _Clips(s, self._source_rate_hz)
            self._flat_tops.find(block, self.peak - s.flat_step, s.flat_run_n, self._source_n)
        return block

    def take_source(self, mono: Floats) -> None:
        """One channel at the file's own rate: bandwidth."""
        self._source_n += len(mono)
        power = self._wide.power(mono)
        if len(power):
            self._strong.append(self._in_bands(power.mean(axis=0)))
            self._quiet.append(self._in_bands(power.min(axis=0)))

    def _in_bands(self, power: Floats) -> Floats:
        """Mean of each band of `band_n` bins."""
        whole = len(power) // self._band_n * self._band_n
        return np.asarray(power[:whole].reshape(-1, self._band_n).mean(axis=1), np.float32)

    def take_analysis(self, block: Floats) -> None:
        """One channel at the analysis rate: level, hiss, hum."""
        frames = self._level.cut(block)
        self._power.append(np.einsum("ij,ij->i", frames, frames) / self._step_n)
        self._mean.append(frames.mean(axis=1))
        self._hiss_power.append(self._hiss.power(block, self._hiss_band).mean(axis=1))
        # the highest harmonic and the surroundings it is compared with
        highest = self._hum.bin(self._settings.hum_harmonics * max(MAINS_HZ) + 2 * self._settings.hum_around_hz)
        self._hum_power.append(self._hum.power(block, slice(highest)))

    def finish(self) -> Measured:
        """The readings of all that was taken."""
        s = self._settings
        power, mean = _joined(self._power), _joined(self._mean)
        group = max(1, round(s.noise_frame_s / s.level_step_s))
        whole = len(power) // group * group
        if not whole:  # shorter than one frame
            group, whole = max(1, len(power)), len(power)
        grouped = power[:whole].reshape(-1, group).mean(axis=1) - mean[:whole].reshape(-1, group).mean(axis=1) ** 2
        quiet, loud = np.percentile(grouped, (s.noise_percentile, s.loud_percentile)) if whole else (0.0, self.peak**2)
        noise_floor_db, loud_db = _db(quiet), _db(loud)
        bandwidth_hz, cliff = self._bandwidth()
        flat = not self._clips.places_s and len(self._flat_tops.places_s) >= s.flat_places
        clips = self._flat_tops if flat else self._clips
        hum_hz, hum_db = find_hum(_stacked(self._hum_power), self._hum.spacing_hz, self._hum.tone_scale, s)
        return Measured(
            peak_db=_db(self.peak**2),
            loud_db=loud_db,
            noise_floor_db=noise_floor_db,
            bandwidth_hz=bandwidth_hz,
            cliff=cliff,
            hum_hz=hum_hz,
            hum_db=hum_db,
            clipped_n=clips.samples_n,
            clipped_at_s=tuple(sorted(clips.places_s)),
            clipped_db=_db(self.peak**2) if flat else 0.0,
            gaps_s=find_gaps(power, self._step_n / s.rate_hz, s),
            mended_n=self._mended_n,
            levels=Levels(
                step_s=self._step_n / s.rate_hz,
                level_db=_decibels(power),
                hiss_step_s=self._hiss.size / s.rate_hz,
                hiss_db=_decibels(_joined(self._hiss_power)),
            ),
        )

    def _bandwidth(self) -> tuple[float, bool]:
        if not self._strong:
            return self._source_rate_hz / 2, False
        strong = np.percentile(_stacked(self._strong), self._settings.band_percentile, axis=0)
        quiet = np.median(_stacked(self._quiet), axis=0)
        width_hz = self._band_n * self._wide.spacing_hz
        return find_bandwidth(_decibels(strong), _decibels(quiet), width_hz, self._settings)


class _Spectra:
    """Power spectral densities of successive Hann-windowed frames of a stream."""

    def __init__(self, size: int, rate_hz: int) -> None:
        self.size = size
        self.spacing_hz = rate_hz / size
        self._window = np.hanning(size + 1)[:-1].astype(np.float32)
        self._scale = np.float32(2 / (rate_hz * np.sum(self._window**2, dtype=np.float64)))
        # from density to the mean square of a tone in its bin
        self.tone_scale = float(
            rate_hz * np.sum(self._window**2, dtype=np.float64) / np.sum(self._window, dtype=np.float64) ** 2
        )
        self._framer = _Framer(size)

    def bin(self, frequency_hz: float) -> int:
        return round(frequency_hz / self.spacing_hz)

    def power(self, block: Floats, bins: slice = slice(None)) -> Floats:
        """Density of each whole frame so far, full scale² per Hz, in `bins` of the size/2 + 1: (frames, bins)."""
        import scipy.fft

        spectrum = scipy.fft.rfft(self._framer.cut(block) * self._window, axis=1)[:, bins]
        power: Floats = np.square(spectrum.real)
        power += np.square(spectrum.imag)
        power *= self._scale
        return power


MAINS_HZ = (50.0, 60.0)
"""The two mains frequencies of the world (IEC 60038)."""


def find_hum(
    power: Floats, spacing_hz: float, tone_scale: float, settings: RecordingSettings
) -> tuple[float | None, float | None]:
    """Mains frequency and level in dB of hum that stands out, or (None, None).

    `power`: densities of long frames, shape (frames, bins), bins `spacing_hz` apart from 0.
    """
    s = settings
    if len(power) < s.hum_least_frames:
        return None, None
    low, middle = np.percentile(power, (s.hum_percentile, 50.0), axis=0)
    low_db, middle_db = _decibels(low), _decibels(middle)
    around, apart = round(s.hum_around_hz / spacing_hz), s.hum_peak_bins
    best: tuple[float, float | None, float | None] = (0.0, None, None)
    for mains_hz in MAINS_HZ:
        excess_db, level = [], 0.0
        for harmonic in range(1, s.hum_harmonics + 1):
            centre = round(harmonic * mains_hz / spacing_hz)
            near = np.arange(max(1, centre - around), min(len(low_db), centre + around + 1))
            peak = centre - apart + int(np.argmax(low_db[centre - apart : centre + apart + 1]))
            beside = near[np.abs(near - peak) > apart]
            rise_db = float(low_db[peak] - np.median(low_db[beside]))
            off_hz = abs(_vertex(low_db, peak) * spacing_hz - harmonic * mains_hz)
            steady = middle_db[peak] - low_db[peak] <= s.hum_steady_db
            if rise_db >= s.hum_rise_db and off_hz <= s.hum_off_hz and steady:
                excess_db.append(rise_db)
                level += float(low[peak]) * tone_scale
        plain = len(excess_db) >= s.hum_least_harmonics or (excess_db and max(excess_db) >= s.hum_alone_db)
        if plain and sum(excess_db) > best[0]:
            best = (sum(excess_db), mains_hz, _db(level))
    return best[1], best[2]


def _vertex(level_db: Floats, peak: int) -> float:
    """Place of the parabola's top through a peak and its neighbours, in bins."""
    left, top, right = (float(level_db[peak + k]) for k in (-1, 0, 1))
    bend = left - 2 * top + right
    return peak + (0.5 * (left - right) / bend if bend < 0 else 0.0)


def find_bandwidth(
    strong_db: Floats, quiet_db: Floats, width_hz: float, settings: RecordingSettings
) -> tuple[float, bool]:
    """(highest frequency that carries sound, whether a codec or the rate cuts the spectrum off there).

    `strong_db`, `quiet_db`: density in bands `width_hz` wide from 0, of the loudest blocks and of the quietest
    moments, dB re full scale² per Hz. Strings that end where the noise goes on are no cut: a cut takes the
    noise too, or leaves nothing.
    """
    s = settings
    carrying = np.flatnonzero(strong_db > s.band_floor_db)
    edge_hz = (int(carrying[-1]) + 1 if len(carrying) else 1) * width_hz
    span = max(2, round(s.cliff_span_hz / width_hz))
    if len(strong_db) > span + 2:
        above = np.maximum(np.maximum.accumulate(strong_db[::-1])[::-1][span + 2 :], s.band_floor_db)
        below = np.median(np.lib.stride_tricks.sliding_window_view(strong_db[:-3], span), axis=1)
        drop_db = below - above
        for i in np.argsort(-drop_db, kind="stable"):
            if drop_db[i] < s.cliff_db:
                break
            k = span + int(i)
            noise_drop_db = float(np.median(quiet_db[i:k]) - np.median(quiet_db[k + 2 :]))
            if above[i] < s.band_empty_db or noise_drop_db >= s.cliff_noise_db:
                return (k + 0.5) * width_hz, True
    nyquist_hz = len(strong_db) * width_hz
    return min(edge_hz, nyquist_hz), edge_hz >= s.usable_nyquist * nyquist_hz


def find_gaps(power: Floats, step_s: float, settings: RecordingSettings) -> tuple[tuple[float, float], ...]:
    """(start, end) of stretches of digital silence that cut a sound off, from the power of short frames."""
    silent = power < 10 ** (settings.gap_silence_db / 10)
    edges = np.flatnonzero(np.diff(silent.astype(np.int8), prepend=0, append=0))
    gaps = []
    for start, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        before = power[max(0, start - 3) : start]
        sounding = len(before) and _db(float(before.max())) > settings.gap_sound_db
        if sounding and end < len(power) and (end - start) * step_s >= settings.gap_s:
            gaps.append((start * step_s, end * step_s))
    return tuple(gaps)


def _db(power: float) -> float:
    return 10 * float(np.log10(max(float(power), POWER_FLOOR)))


def _decibels(power: NDArray[np.floating]) -> Floats:
    return np.asarray(10 * np.log10(np.maximum(power, POWER_FLOOR)), np.float32)


def _joined(pieces: list[Floats]) -> Floats:
    return np.concatenate(pieces) if pieces else np.empty(0, np.float32)


def _stacked(rows: list[Floats]) -> Floats:
    return np.vstack(rows) if rows else np.empty((0, 0), np.float32)
