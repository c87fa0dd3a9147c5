"""The general-purpose estimators that the pitch bench compares with, and this product's whole route, in one shape.

Conventions. An estimator takes mono samples and their rate, and gives frame times in seconds from the first sample and
frequencies in Hz (NaN where it says unvoiced). All search 30 to 3400 Hz, or what their range allows of it, in steps of
10 ms (torchcrepe 20 ms, for its cost). A single figure for a note is the frames' median or their energy-weighted mean
over the window of the definition: the bench reports whichever serves the method better.
"""

import sys
from collections.abc import Callable
from types import ModuleType

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float64]
Track = tuple[NDArray[np.float64], NDArray[np.float64]]
Estimator = Callable[[Samples, int], Track]

LOWEST_HZ, HIGHEST_HZ = 30.0, 3400.0
HOP_S = 0.01


def yin(samples: Samples, rate_hz: int) -> Track:
    import librosa

    hz = librosa.yin(samples, fmin=LOWEST_HZ, fmax=HIGHEST_HZ, sr=rate_hz, frame_length=4096, hop_length=441)
    return np.arange(len(hz)) * 441 / rate_hz, hz


def pyin(samples: Samples, rate_hz: int) -> Track:
    import librosa

    hz, voiced, _ = librosa.pyin(
        samples, fmin=LOWEST_HZ, fmax=HIGHEST_HZ, sr=rate_hz, frame_length=4096, hop_length=441
    )
    return np.arange(len(hz)) * 441 / rate_hz, np.where(voiced, hz, np.nan)


def praat(samples: Samples, rate_hz: int) -> Track:
    import parselmouth

    found = parselmouth.Sound(samples, rate_hz).to_pitch_ac(
        time_step=HOP_S, pitch_floor=LOWEST_HZ, pitch_ceiling=HIGHEST_HZ
    )
    hz = found.selected_array["frequency"]
    return found.xs(), np.where(hz > 0, hz, np.nan)


def crepe(samples: Samples, rate_hz: int) -> Track:
    import soxr
    import torch

    sys.modules.setdefault("torchaudio", ModuleType("torchaudio"))  # opens files only, and its builds lag torch's
    import torchcrepe

    torch.set_num_threads(1)
    at16 = torch.tensor(soxr.resample(samples, rate_hz, 16000), dtype=torch.float32)[None]
    hz, sure = torchcrepe.predict(
        at16, 16000, 320, 32.7, 2006.0, "full", decoder=torchcrepe.decode.weighted_argmax, return_periodicity=True
    )
    hz = np.where(sure[0].numpy() > 0.21, hz[0].numpy(), np.nan)
    return np.arange(len(hz)) * 0.02, hz


def swift(samples: Samples, rate_hz: int) -> Track:
    from swift_f0 import SwiftF0

    if not hasattr(swift, "model"):
        swift.model = SwiftF0(threads=1)  # type: ignore[attr-defined]
    found = swift.model.detect(samples.astype(np.float32), rate_hz)  # type: ignore[attr-defined]
    return np.asarray(found.timestamps), np.where(np.asarray(found.confidence) > 0.5, found.pitch_hz, np.nan)


def swipe(samples: Samples, rate_hz: int) -> Track:
    import pysptk

    hz = pysptk.swipe(samples * 32768, rate_hz, 441, min=LOWEST_HZ, max=HIGHEST_HZ, otype="f0")
    return np.arange(len(hz)) * 441 / rate_hz, np.where(hz > 0, hz, np.nan)


def harvest(samples: Samples, rate_hz: int) -> Track:
    import pyworld

    hz, at_s = pyworld.harvest(samples, rate_hz, f0_floor=LOWEST_HZ, f0_ceil=HIGHEST_HZ, frame_period=1000 * HOP_S)
    return at_s, np.where(hz > 0, hz, np.nan)


def harmonic_product(samples: Samples, rate_hz: int) -> Track:
    """One spectrum of the first 1.35 s, multiplied with itself squeezed two to five times; one frame."""
    part = samples[: int(1.45 * rate_hz)]
    size = 1 << 18
    level = np.log(np.abs(np.fft.rfft(part * np.hanning(len(part)), size)) + 1e-9)
    lowest, highest = (int(hz * size / rate_hz) for hz in (LOWEST_HZ, HIGHEST_HZ))
    k = np.arange(lowest, highest)
    total = sum(level[k * n] for n in range(1, 6) if (k * n).max() < len(level))
    top = int(k[np.argmax(total)])
    left, mid, right = level[top - 1 : top + 2]
    bend = left - 2 * mid + right
    offset = 0.5 * (left - right) / bend if bend < 0 else 0.0
    return np.array([0.5]), np.array([(top + offset) * rate_hz / size])


OTHERS: dict[str, Estimator] = {
    "librosa yin": yin,
    "librosa pyin": pyin,
    "Praat autocorrelation": praat,
    "torchcrepe": crepe,
    "SwiftF0": swift,
    "SWIPE' (pysptk)": swipe,
    "Harvest (pyworld)": harvest,
    "FFT, harmonic product": harmonic_product,
}


def single_figures(
    track: Track, samples: Samples, rate_hz: int, onset_s: float, span: tuple[float, float]
) -> tuple[float, float]:
    """(median, energy-weighted mean of the logarithm) over the frames within `span` after the onset; NaN for none."""
    at_s, hz = track
    inside = (at_s - onset_s >= span[0]) & (at_s - onset_s <= span[1]) & np.isfinite(hz) & (hz > 0)
    if len(at_s) == 1:
        return float(hz[0]), float(hz[0])
    if not inside.any():
        return np.nan, np.nan
    centre = np.rint(at_s[inside] * rate_hz).astype(int)
    reach = int(0.01 * rate_hz)
    energy = np.array([np.sum(samples[max(0, c - reach) : c + reach] ** 2) for c in centre]) + 1e-12
    middle = float(np.median(hz[inside]))
    near = np.abs(np.log2(hz[inside] / middle)) < 0.03  # a stray octave is no part of a mean
    if not near.any():
        return middle, middle
    mean = float(np.exp(np.average(np.log(hz[inside][near]), weights=energy[near])))
    return middle, mean
