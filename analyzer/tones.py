"""Tones to tune by: plucked-string sounds at a plan's targets, in its working order, one file a pass.

Conventions: frequencies in Hz, times in seconds, samples of full scale 1, one channel.

Method: a sum of partials n·f, the first of them exactly at the target, each dying faster than the one before;
their strengths are those of a string plucked at a share `pluck_at` of its length, sin(π·n·p)/n² in displacement. No
inharmonicity, so that every partial agrees with the target by ear. Each tone is heard a few times, then a rest
follows to move the key to the next pin. No speech: the list beside the file says which tone is which string.
"""

import io
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.settings import ToneSettings

Samples = NDArray[np.float64]

_DEFAULTS = ToneSettings()
_FALL_60_DB = float(np.log(1000.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Cue:
    """One string's place in a file."""

    string: str
    note: str
    to_hz: float
    start_s: float


def tone(f_hz: float, length_s: float, settings: ToneSettings = _DEFAULTS) -> Samples:
    """One plucked tone."""
    t = np.arange(round(length_s * settings.rate_hz)) / settings.rate_hz
    n = np.arange(1, settings.partials_n + 1)
    n = n[(n == 1) | (n * f_hz < settings.highest_hz)]
    strength = np.abs(np.sin(np.pi * n * settings.pluck_at)) / n**2
    t60_s = settings.decay_low_s * (f_hz / settings.decay_low_hz) ** -settings.decay_fall
    rate = _FALL_60_DB / t60_s * n**settings.decay_partial
    sound = np.zeros_like(t)
    for number, level, fall in zip(n, strength, rate, strict=True):
        sound += level * np.exp(-fall * t) * np.sin(2 * np.pi * number * f_hz * t)
    edge = np.minimum(np.minimum(t / settings.rise_s, (length_s - t) / settings.fade_s), 1.0)
    sound *= edge
    return np.asarray(settings.peak * sound / np.max(np.abs(sound)), dtype=np.float64)


def in_order(
    targets: Sequence[tuple[str, str, float]], settings: ToneSettings = _DEFAULTS
) -> tuple[Samples, tuple[Cue, ...]]:
    """The tones of (string, note, Hz) one after another, and where each begins."""
    parts: list[Samples] = [np.zeros(round(settings.lead_s * settings.rate_hz))]
    rest = np.zeros(round(settings.rest_s * settings.rate_hz))
    cues = []
    samples_n = len(parts[0])
    for string, note, f_hz in targets:
        cues.append(Cue(string=string, note=note, to_hz=f_hz, start_s=samples_n / settings.rate_hz))
        one = tone(f_hz, settings.tone_s, settings)
        parts += [one] * settings.repeats_n + [rest]
        samples_n += settings.repeats_n * len(one) + len(rest)
    return np.concatenate(parts), tuple(cues)


def wav(sound: Samples, settings: ToneSettings = _DEFAULTS) -> bytes:
    """The sound as a WAV file of 16 bits."""
    import soundfile

    out = io.BytesIO()
    soundfile.write(out, sound, settings.rate_hz, format="WAV", subtype="PCM_16")
    return out.getvalue()


def cues_csv(cues: Sequence[tuple[str, Cue]]) -> str:
    """The list beside the files: `file,start_s,string,note,to_hz`."""
    lines = [f"{file},{cue.start_s:.2f},{cue.string},{cue.note},{cue.to_hz:.7g}" for file, cue in cues]
    return "\n".join(["file,start_s,string,note,to_hz", *lines]) + "\n"
