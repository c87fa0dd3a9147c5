"""The pluck of each string as a short clip to listen to, and the spectrum that is drawn of it.

Each counted pluck is cut from its recording at the recording's own rate, the channels summed as the survey summed
them, levelled so that all strings can be compared by ear, faded, and encoded as Opus in Ogg (RFC 6716, RFC 7845),
which current browsers play. Nothing of the recording goes along but its sound: no name, place or device.

The spectrum is the magnitude of a Hann-windowed stretch after the onset, the highest line in each of many narrow
bands evenly spaced in pitch, in dB against the highest of all. It is for looking at; the measured partials are the
survey's.
"""

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from analyzer.settings import ClipSettings, RecordingSettings, Settings
from analyzer.survey import PluckRow, Survey

if TYPE_CHECKING:
    from analyzer.decoding import Source

Sound = NDArray[np.float32]
_DEFAULTS = Settings()


@dataclass(frozen=True, slots=True, kw_only=True)
class Clip:
    """One string to listen to."""

    opus: bytes
    """Opus in Ogg, mono."""
    length_s: float
    spectrum_hz: tuple[float, ...]
    """Middle of each band that the recording reaches."""
    spectrum_db: tuple[float, ...]
    """Level in each, dB against the highest, not below the settings' floor."""


def cut(recordings: Sequence[Path], survey: Survey, settings: Settings = _DEFAULTS) -> dict[str, Clip]:
    """String -> clip of the pluck that counts for it; strings not heard, or silent there, have none.

    `recordings` are the survey's, in its order. Raises UnusableInput where one cannot be read any more.
    """
    clips = {}
    for part, path in enumerate(recordings):
        plucks = [row for row in survey.plucks if row.counted and row.recording == part and row.string is not None]
        weights = np.asarray(survey.recordings[part].channel_weights, np.float32)
        for row, sound, rate_hz in _plucks_of(path, plucks, weights, settings):
            if row.string is not None and np.any(sound):
                clips[row.string] = _clip(sound, rate_hz, settings.clips)
    return clips


def _clip(sound: Sound, rate_hz: int, s: ClipSettings) -> Clip:
    spectrum_hz, spectrum_db = _spectrum(sound, rate_hz, s)
    return Clip(
        opus=_opus(_levelled(_at_rate(sound, rate_hz, s), s), s),
        length_s=len(sound) / rate_hz,
        spectrum_hz=spectrum_hz,
        spectrum_db=spectrum_db,
    )


def _plucks_of(
    path: Path, plucks: Sequence[PluckRow], weights: Sound, settings: Settings
) -> Iterator[tuple[PluckRow, Sound, int]]:
    """Each pluck's stretch of the recording, in one pass over the file that keeps nothing else."""
    if not plucks:
        return
    source = _opened(path, settings.recording)
    try:
        spans = [_span(row, source.rate_hz, settings.clips) for row in plucks]
        sounds = [np.zeros(stop - start, np.float32) for start, stop in spans]
        at = 0
        for block in source.blocks():
            end = at + len(block)
            for sound, (start, stop) in zip(sounds, spans, strict=True):
                low, high = max(start, at), min(stop, end)
                if low < high:
                    sound[low - start : high - start] = np.nan_to_num(block[low - at : high - at]) @ weights
            at = end
        for row, sound in zip(plucks, sounds, strict=True):
            yield row, sound, source.rate_hz
    finally:
        source.close()


def _opened(path: Path, settings: RecordingSettings) -> "Source":
    from analyzer.decoding import open_source

    return open_source(path, settings)


def _span(row: PluckRow, rate_hz: int, s: ClipSettings) -> tuple[int, int]:
    """First and last + 1 frame of a pluck's clip."""
    start_s = row.onset_s - s.lead_s
    end_s = min(row.end_s, start_s + s.length_s)
    return round(start_s * rate_hz), round(max(end_s, row.onset_s + s.fade_s) * rate_hz)


def _at_rate(sound: Sound, rate_hz: int, s: ClipSettings) -> Sound:
    import soxr

    return sound if rate_hz == s.rate_hz else np.asarray(soxr.resample(sound, rate_hz, s.rate_hz), np.float32)


def _levelled(sound: Sound, s: ClipSettings) -> Sound:
    """The sound at the common level, its ends faded."""
    span_n = min(round(s.level_span_s * s.rate_hz), len(sound))
    energy = np.cumsum(np.concatenate([[0.0], sound.astype(np.float64) ** 2]))
    loudest = float(np.sqrt(np.max(energy[span_n:] - energy[:-span_n]) / span_n))
    peak = float(np.max(np.abs(sound)))
    gain = min(10 ** (s.level_db / 20) / loudest, 10 ** (s.peak_db / 20) / peak, 10 ** (s.most_gain_db / 20))
    t = np.arange(len(sound)) / s.rate_hz
    edge = np.minimum(np.minimum(t / s.lead_s, (t[-1] - t) / s.fade_s), 1.0)
    return np.asarray(gain * edge * sound, np.float32)


def _opus(sound: Sound, s: ClipSettings) -> bytes:
    """Opus in Ogg: frames of 60 ms, because a clip is not a call."""
    import av

    out = io.BytesIO()
    with av.open(out, "w", format="ogg", options={"fflags": "+bitexact"}) as container:
        stream = container.add_stream("libopus", rate=s.rate_hz)
        stream.layout = "mono"
        stream.bit_rate = s.bit_rate
        stream.options = {"compression_level": str(s.complexity), "frame_duration": "60", "application": "audio"}
        frame = av.AudioFrame.from_ndarray(sound[np.newaxis, :], format="flt", layout="mono")
        frame.sample_rate = s.rate_hz
        container.mux([*stream.encode(frame), *stream.encode(None)])
    return out.getvalue()


def _spectrum(sound: Sound, rate_hz: int, s: ClipSettings) -> tuple[tuple[float, ...], tuple[float, ...]]:
    start = round(s.lead_s * rate_hz)
    stretch = sound[start : start + round(s.spectrum_s * rate_hz)].astype(np.float64)
    full_n = round(s.spectrum_s * rate_hz)
    power = np.abs(np.fft.rfft(stretch * np.hanning(len(stretch)), full_n)) ** 2
    edges_hz = np.geomspace(s.spectrum_lowest_hz, s.spectrum_highest_hz, s.spectrum_points_n + 1)
    edges_hz = edges_hz[edges_hz <= rate_hz / 2]
    lines = np.arange(len(power)) * rate_hz / full_n
    middle_hz = np.sqrt(edges_hz[:-1] * edges_hz[1:])
    first, last = np.searchsorted(lines, edges_hz[:-1]), np.searchsorted(lines, edges_hz[1:])
    between = np.interp(middle_hz, lines, power)  # where a band is narrower than the lines' spacing
    highest = np.array([power[a:b].max() if b > a else x for a, b, x in zip(first, last, between, strict=True)])
    level_db = 10 * np.log10(np.maximum(highest / max(highest.max(), 1e-30), 10 ** (s.spectrum_floor_db / 10)))
    return tuple(middle_hz.round(1).tolist()), tuple(level_db.round(1).tolist())
