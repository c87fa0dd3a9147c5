"""One pluck's sound in narrow bands: the complex envelope of single partials over time.

Task. From a pluck's samples to what `pitch` and `decay` measure: z(t) with |z| the amplitude of the tone near a
frequency and arg z its phase against that frequency. One Fourier transform a pluck; a band is a few hundred of its
bins, weighted by a squared cosine and transformed back, which shifts it to zero frequency and thins it out at once.
Bands of one width are made together.

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
Table = NDArray[np.float64]
Complex = NDArray[np.complex128]

LEAST_POWER = 1e-16
"""Noise is never taken for less, full scale²: what 24 bits round off."""


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
        self._spectrum: NDArray[np.complexfloating] = scipy.fft.rfft(block, self._size)
        self._hz_per_bin = rate_hz / self._size
        self._first_s = start / rate_hz - onset_s
        self._span_s = self._size / rate_hz
        self.highest_hz = rate_hz / 2

    def band(self, centre_hz: float, half_width_hz: float) -> Band:
        """The band about `centre_hz`; what lies beyond the recorded range counts as zero."""
        return self.bands((centre_hz,), half_width_hz)[0]

    def bands(self, centres_hz: Sequence[float] | Vector, half_width_hz: float) -> tuple[Band, ...]:
        """Bands of one width about each of `centres_hz`, all at the same times."""
        middle = self._bins(centres_hz)
        times_s = self._times_s(half_width_hz)
        return tuple(
            Band(times_s=times_s, envelope=z, centre_hz=hz, rate_hz=len(times_s) / self._span_s)
            for hz, z in zip(
                (middle * self._hz_per_bin).tolist(), self._envelopes(middle, half_width_hz, np.complex128), strict=True
            )
        )

    def powers(self, centres_hz: Sequence[float] | Vector, half_width_hz: float) -> tuple[Vector, Table]:
        """(times (K,), |z|² of each band (N, K)): where no phase is asked for."""
        return self._times_s(half_width_hz), _squared(
            self._envelopes(self._bins(centres_hz), half_width_hz, np.complex128)
        )

    def noise_powers(
        self, centres_hz: Sequence[float] | Vector, half_width_hz: float, aside_hz: float, span: tuple[float, float]
    ) -> Vector:
        """(N,) mean |z|² that noise alone gives in bands of this width, judged `aside_hz` away, between the partials.

        The quieter of the two sides counts, and the median over time: another tone on one side, or a knock, does not.
        """
        width_hz = min(half_width_hz, 0.45 * aside_hz)
        sides_hz = np.asarray(centres_hz, dtype=np.float64) + np.array([[-aside_hz], [aside_hz]])
        lo, hi = np.searchsorted(self._times_s(width_hz), span)
        quiet = np.full(sides_hz.shape, np.inf)
        heard = (sides_hz > width_hz) & (sides_hz < self.highest_hz - width_hz)
        if heard.any() and hi > lo:
            envelopes = self._envelopes(self._bins(sides_hz[heard]), width_hz, np.complex64)
            quiet[heard] = np.median(_squared(envelopes[:, lo:hi]), axis=1) / np.log(2) * half_width_hz / width_hz
        least = quiet.min(axis=0)
        return np.maximum(np.where(np.isfinite(least), least, 0.0), LEAST_POWER)

    def _bins(self, centres_hz: Sequence[float] | Vector) -> NDArray[np.int64]:
        bins: NDArray[np.int64] = np.rint(np.asarray(centres_hz, dtype=np.float64) / self._hz_per_bin).astype(np.int64)
        return bins

    def _reach(self, half_width_hz: float) -> tuple[int, int]:
        """(bins on either side of the centre, values over time) of a band."""
        import scipy.fft

        reach = max(2, int(half_width_hz / self._hz_per_bin))
        return reach, int(scipy.fft.next_fast_len(4 * reach))

    def _times_s(self, half_width_hz: float) -> Vector:
        _, length = self._reach(half_width_hz)
        times_s: Vector = self._first_s + np.arange(length, dtype=np.float64) * (self._span_s / length)
        return times_s

    def _envelopes(
        self, middle: NDArray[np.int64], half_width_hz: float, kind: type[np.complexfloating]
    ) -> NDArray[np.complexfloating]:
        """(N, K) envelopes about the bins `middle`, by one transform for all."""
        import scipy.fft

        reach, length = self._reach(half_width_hz)
        k = np.arange(-reach, reach + 1)
        weight = np.cos(np.pi * k / (2 * (reach + 1))) ** 2 * (2 * length / self._size)
        at = middle[:, None] + k
        lines = np.zeros((len(middle), length), dtype=kind)
        inside = (at >= 0) & (at < len(self._spectrum))
        taken = self._spectrum[np.clip(at, 0, len(self._spectrum) - 1)]
        if not inside.all():
            taken[~inside] = 0.0
        lines[:, : reach + 1] = taken[:, reach:] * weight[reach:]
        lines[:, -reach:] = taken[:, :reach] * weight[:reach]
        envelopes: NDArray[np.complexfloating] = scipy.fft.ifft(lines, axis=1, overwrite_x=True)
        return envelopes


def _squared(z: NDArray[np.complexfloating]) -> Table:
    squared: Table = np.square(z.real)
    squared += np.square(z.imag)
    return squared
