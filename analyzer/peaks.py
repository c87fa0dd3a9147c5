"""What stands out of a pluck's spectrum: peaks above the local noise and above what rang before.

Conventions. Frequencies in Hz, levels in dB below full scale. A sound is looked at over one span after its onset and
one as long before it; both have the same spectrum settings, so that their bins compare.

Known limits. Two partials nearer than a resolution width (2 / span) are one peak.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from analyzer.settings import EvidenceSettings

Vector = NDArray[np.float64]
Grid = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Peaks:
    """(M,) each, ascending in frequency; the last two (L,), of all that sounds."""

    hz: Vector
    weight: Vector
    level_db: Vector
    grown_db: Vector
    """Level over what its surroundings held before the onset."""
    sounding_hz: Vector
    sounding_db: Vector
    """All that stands out of the noise, whether or not it rang before."""


def spectra(blocks: NDArray[np.float32]) -> Grid:
    """Amplitude spectra (Hann) of the rows, zero-padded to a power of two at least twice as long."""
    import scipy.fft

    size = blocks.shape[1]
    length = 2 << int(np.ceil(np.log2(max(size, 2))))
    amplitude = np.abs(scipy.fft.rfft(blocks * _hann(size), length, axis=1))
    return np.asarray(amplitude, np.float64) * (2 / float(_hann(size).sum()))


@lru_cache(maxsize=8)
def _hann(length: int) -> NDArray[np.float32]:
    return np.hanning(length + 2)[1:-1].astype(np.float32)


def find_peaks(
    after: Vector, before: Vector, ringing_share: float, span_s: float, rate_hz: int, s: EvidenceSettings
) -> Peaks:
    """Peaks that stand out of the local noise and of `ringing_share` of what sounded before, the strongest `s.peaks`.

    One that the noise itself may have made weighs little, however many there are.
    """
    hz_per_bin = rate_hz / 2 / (len(after) - 1)
    lobe = max(1, round(1 / span_s / hz_per_bin))
    width = max(2, round(max(s.floor_width_hz, 12 / span_s) / hz_per_bin))
    whole = len(after) // width * width
    medians = np.median(after[:whole].reshape(-1, width), axis=1)
    at = np.flatnonzero((after[1:-1] > after[:-2]) & (after[1:-1] >= after[2:])) + 1
    at = at[(at * hz_per_bin > s.lowest_hz) & (at * hz_per_bin < s.highest_hz)]
    floor = np.interp(at, (np.arange(len(medians)) + 0.5) * width, medians)
    sounding = after[at] > 10 ** (s.least_above_db / 20) * floor
    at, floor = at[sounding], floor[sounding]
    ringing = before[np.clip(at[:, None] + np.arange(-lobe, lobe + 1), 0, len(before) - 1)].max(axis=1)
    level_db = decibels(after[at])
    above_db = level_db - decibels(np.maximum(floor, ringing_share * ringing))
    sounding_hz, sounding_db = np.asarray(at * hz_per_bin, np.float64), level_db
    kept = np.flatnonzero(above_db > s.least_above_db)
    if len(kept):
        kept = kept[level_db[kept] > level_db[kept].max() - s.below_strongest_db]
        kept = np.sort(kept[np.argsort(-level_db[kept])[: s.peaks]])
    at, mid = at[kept], level_db[kept]
    left, right = decibels(after[at - 1]), decibels(after[at + 1])
    offset = 0.5 * (left - right) / np.minimum(left - 2 * mid + right, -1e-9)
    prominence = np.minimum(above_db[kept], s.most_above_db)
    loudness = s.below_strongest_db + mid - (mid.max() if len(mid) else 0.0)
    sure = 1 / (1 + np.exp((s.sure_db - above_db[kept]) / s.sure_scale_db))
    return Peaks(
        hz=(at + offset) * hz_per_bin,
        weight=np.minimum(prominence, loudness) * sure + 1e-9,
        level_db=mid,
        grown_db=mid - decibels(ringing[kept]),
        sounding_hz=sounding_hz,
        sounding_db=sounding_db,
    )


def decibels(amplitude: Vector) -> Vector:
    """Of amplitudes; -240 for none."""
    return np.asarray(20 * np.log10(amplitude + 1e-12))


def drift(sounding: NDArray[np.float32], rate_hz: int, peaks: Peaks, s: EvidenceSettings) -> float:
    """Median move of the loudest peaks between the halves of the span, against what a steady tone may move."""
    half = len(sounding) // 2
    halves = spectra(sounding[: 2 * half].reshape(2, half))
    hz_per_bin = rate_hz / 2 / (halves.shape[1] - 1)
    reach = max(1, round(s.drift_reach_bins * rate_hz / half / hz_per_bin))
    hz = peaks.hz[np.argsort(-peaks.level_db)[: s.drift_peaks]]
    low = np.maximum(1, np.rint(hz / hz_per_bin).astype(int) - reach)
    first, second = (_tops(spectrum, low, 2 * reach + 1) * hz_per_bin for spectrum in halves)
    allowed = np.hypot(s.drift_bins * rate_hz / half, hz * s.drift_cents / 1731)
    return float(np.median(np.abs(second - first) / allowed))


def _tops(spectrum: Vector, low: NDArray[np.int64], width: int) -> Vector:
    """Places of the highest values in the `width` bins from each of `low`, between bins, by parabolas."""
    within = spectrum[np.minimum(low[:, None] + np.arange(width), len(spectrum) - 1)]
    at = np.clip(low + within.argmax(axis=1), 1, len(spectrum) - 2)
    left, mid, right = (np.log(spectrum[at + k] + 1e-12) for k in (-1, 0, 1))
    return np.asarray(at + 0.5 * (left - right) / np.minimum(left - 2 * mid + right, -1e-9))
