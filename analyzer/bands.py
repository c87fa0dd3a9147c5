"""One pluck's sound in narrow bands: the complex envelope of single partials over time.

Task. From a pluck's samples to what `pitch` and `decay` measure: z(t) with |z| the amplitude of the tone near a
frequency and arg z its phase against that frequency. One Fourier transform a pluck; a band is a few hundred of its
bins, weighted by a squared cosine and transformed back, which shifts it to zero frequency and thins it out at once.

Conventions. Times are seconds from the onset (negative before it). Amplitude is of the real tone: a sine of amplitude
1 gives |z| = 1. A band of half-width h smears time by about 1/h and has 4·h independent-looking values a second, of
which about h·1.5 are independent in noise.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.plucks import Sound

Vector = NDArray[np.float64]
Complex = NDArray[np.complex128]


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """The neighbourhood of one frequency."""

    times_s: Vector
    """(K,) from the onset."""
    envelope: Complex
    """(K,) amplitude and phase against `centre_hz`."""
    centre_hz: float
    rate_hz: float
    """Values a second."""

    def within(self, start_s: float, stop_s: float) -> slice:
        """The values from `start_s` to `stop_s`."""
        lo, hi = np.searchsorted(self.times_s, (start_s, stop_s))
        return slice(int(lo), int(hi))


class PluckBands:
    """Bands of one pluck, from `lead_s` before its onset to `end_s` after it."""

    def __init__(self, sound: Sound, rate_hz: int, onset_s: float, end_s: float, lead_s: float) -> None:
        """Reads the samples once; `end_s` counts from the onset."""
        import scipy.fft

        start = round((onset_s - lead_s) * rate_hz)
        wanted = round((lead_s + end_s) * rate_hz)
        self._size: int = scipy.fft.next_fast_len(max(wanted, 16), real=True)
        block = sound.read(start, start + wanted)
        self._spectrum = scipy.fft.rfft(block, self._size).astype(np.complex128)
        self._hz_per_bin = rate_hz / self._size
        self._first_s = start / rate_hz - onset_s
        self._span_s = self._size / rate_hz
        self.highest_hz = rate_hz / 2

    def band(self, centre_hz: float, half_width_hz: float) -> Band:
        """The band about `centre_hz`; what lies beyond the recorded range counts as zero."""
        return self.bands((centre_hz,), half_width_hz)[0]

    def bands(self, centres_hz: Sequence[float], half_width_hz: float) -> tuple[Band, ...]:
        """Bands of one width about each of `centres_hz`, all at the same times, by one transform for all."""
        import scipy.fft

        middle = np.rint(np.asarray(centres_hz, dtype=np.float64) / self._hz_per_bin).astype(int)
        reach = max(2, int(half_width_hz / self._hz_per_bin))
        length: int = scipy.fft.next_fast_len(4 * reach)
        k = np.arange(-reach, reach + 1)
        at = middle[:, None] + k
        weight = np.cos(np.pi * k / (2 * (reach + 1))) ** 2 * (2 * length / self._size)
        lines = np.zeros((len(middle), length), dtype=np.complex128)
        inside = (at >= 0) & (at < len(self._spectrum))
        lines[:, k % length] = np.where(inside, self._spectrum[np.clip(at, 0, len(self._spectrum) - 1)], 0.0) * weight
        envelopes = scipy.fft.ifft(lines, axis=1)
        times_s = self._first_s + np.arange(length, dtype=np.float64) * (self._span_s / length)
        return tuple(
            Band(times_s=times_s, envelope=z, centre_hz=int(m) * self._hz_per_bin, rate_hz=length / self._span_s)
            for m, z in zip(middle, envelopes, strict=True)
        )


def noise_power(
    bands: PluckBands, centre_hz: float, half_width_hz: float, aside_hz: float, span: tuple[float, float]
) -> float:
    """Mean power |z|² that noise alone gives in a band of this width, judged halfway to the neighbouring partials.

    The quieter of the two sides counts, and the median over time: another tone on one side, or a knock, does not.
    """
    quiet = []
    width_hz = min(half_width_hz, 0.45 * aside_hz)
    for side_hz in (centre_hz - aside_hz, centre_hz + aside_hz):
        if width_hz < side_hz < bands.highest_hz - width_hz:
            band = bands.band(side_hz, width_hz)
            power = np.abs(band.envelope[band.within(*span)]) ** 2
            if len(power):
                quiet.append(float(np.median(power)) / np.log(2) * half_width_hz / width_hz)
    return max(min(quiet, default=0.0), 1e-16)
