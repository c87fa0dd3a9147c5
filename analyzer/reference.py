"""The recorder's clock, checked against a tone of known frequency at the start of the recording.

Task. A fork or a tone generator of stated frequency, sounded before the first string: by how much the recording shows
it high or low is the error of the recorder's sample clock, and common to every pitch measured from that recording.

Method. The stretches between the first events are looked at in turn. In each, the band about the stated frequency, and
then about its octave (a fork on a wooden table gives mostly that), must hold a good part of the sound's energy, die
away more slowly than a string does, and keep its frequency from one half to the other. The first stretch that passes
is fitted like a partial (`tone_fit`), with next to no glide allowed.

Known limits. The reference's own error is not in the interval: a steel fork alone falls by 0.2 cents for each kelvin
above the temperature it is marked for (computed from the thermal softening of steel, −2.3e-4 to −2.8e-4 of its modulus
a kelvin, and expansion, 1.2e-5: from memory). A clock that is off by more than 30 cents is taken for another tone.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analyzer.bands import PluckBands
from analyzer.plucks import Pluck, Sound
from analyzer.settings import PitchSettings, ReferenceSettings
from analyzer.stiff_law import CENTS
from analyzer.tone_fit import Tone, fit_tone


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceReading:
    """What the reference tone reads against the frequency stated for it."""

    offset_cents: float | None
    """Above 0 where the recording shows it too high; take it off every deviation. None where no tone serves."""
    u95_cents: float | None
    """Half-width of its 95 % interval, without the reference's own error."""
    start_s: float | None
    stop_s: float | None
    """Where the tone was measured, seconds in the recording."""
    reason: str
    """Why there is none; empty where there is one."""


def reference_offset_cents(
    sound: Sound,
    rate_hz: int,
    plucks: Sequence[Pluck],
    reference_hz: float,
    settings: ReferenceSettings,
    fitting: PitchSettings,
) -> ReferenceReading:
    """Find the steady tone near `reference_hz` at the recording's start and read it.

    `plucks`: every event of the recording in time order; the tone may make one of its own.
    """
    s = settings
    end_s = len(sound) / rate_hz
    edges = [0.0, *(p.onset_s for p in plucks), end_s]
    far: list[float] = []
    for start_s, stop_s in pairwise(edges):
        if start_s > s.within_s:
            break
        span = (start_s + s.skip_s, min(stop_s - s.guard_s, start_s + s.skip_s + s.longest_s))
        if span[1] - span[0] < s.least_s:
            continue
        bands = PluckBands(sound, rate_hz, span[0], span[1] - span[0], s.lead_s)
        loud = _power(sound, rate_hz, span)
        for octave in (1, 2):
            read = _read(bands, reference_hz * octave, span[1] - span[0], loud, s, fitting)
            if read is None:
                continue
            cents, deviation = read
            if abs(cents) > s.most_cents:
                far.append(cents)
                continue
            u95 = fitting.coverage * float(np.hypot(deviation, s.floor_cents))
            return ReferenceReading(offset_cents=cents, u95_cents=u95, start_s=span[0], stop_s=span[1], reason="")
    return ReferenceReading(
        offset_cents=None, u95_cents=None, start_s=None, stop_s=None, reason=_why(reference_hz, far, s)
    )


def _why(reference_hz: float, far: list[float], s: ReferenceSettings) -> str:
    if far:
        side = "above" if far[0] > 0 else "below"
        return (
            f"The steady tone at the start lies {abs(far[0]):.0f} cents {side} {reference_hz:g} Hz: further than any "
            f"recorder's clock is off, so it was not used."
        )
    return (
        f"No steady tone near {reference_hz:g} Hz was found in the first {s.within_s:.0f} seconds: let it sound alone "
        f"for {s.least_s + s.skip_s + s.guard_s:.0f} seconds before the first string."
    )


def _power(sound: Sound, rate_hz: int, span: tuple[float, float]) -> float:
    """Mean square of the samples without what lies below hearing (their mean)."""
    block: NDArray[np.float64] = sound.read(round(span[0] * rate_hz), round(span[1] * rate_hz)).astype(np.float64)
    return float(np.var(block))


def _read(
    bands: PluckBands, at_hz: float, length_s: float, loud: float, s: ReferenceSettings, fitting: PitchSettings
) -> tuple[float, float] | None:
    """(offset in cents, standard deviation); None where the band holds no steady tone."""
    width_hz = s.search_cents / CENTS * at_hz
    band = bands.band(at_hz, width_hz)
    inside = band.within(0.0, length_s)
    t, z = band.times_s[inside], band.envelope[inside]
    power = np.abs(z) ** 2
    half = len(t) // 2
    if half < fitting.least_values or np.mean(power) / 2 < s.least_share * loud:
        return None
    noise = _noise(bands, at_hz, width_hz, length_s, fitting.least_noise)
    fall_db_per_s = -10 * np.log10(float(np.mean(power[half:]) / np.mean(power[:half]))) / float(t[half] - t[0])
    if abs(fall_db_per_s) > s.most_fall_db_per_s:
        return None
    glide = s.glide_cents_per_s * at_hz / CENTS
    parts = [fit_tone(t[a], z[a], noise, glide, fitting) for a in (slice(None), slice(None, half), slice(half, None))]
    whole, first, second = parts
    if whole is None or first is None or second is None:
        return None
    moved, unsure = _moved(first, second)
    if moved * CENTS / at_hz > s.steady_cents + fitting.coverage * unsure * CENTS / at_hz:
        return None
    hz = band.centre_hz + whole.offset_hz
    return float(CENTS * np.log(hz / at_hz)), float(CENTS * whole.deviation_hz / hz)


def _moved(first: Tone, second: Tone) -> tuple[float, float]:
    return abs(second.offset_hz - first.offset_hz), float(np.hypot(first.deviation_hz, second.deviation_hz))


def _noise(bands: PluckBands, at_hz: float, width_hz: float, length_s: float, least: float) -> float:
    """Mean |z|² of noise in the band, from the quieter of its two neighbours."""
    sides = bands.bands((at_hz - 2 * width_hz, at_hz + 2 * width_hz), width_hz)
    inside = sides[0].within(0.0, length_s)
    return max(min(float(np.median(np.abs(b.envelope[inside]) ** 2)) for b in sides) / float(np.log(2)), least)
