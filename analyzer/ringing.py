"""What still rings from earlier strings in a partial's band: found before the onset, taken out after it.

Method. Before the onset the ring is modelled as one or two damped sinusoids (matrix pencil: Hua & Sarkar, IEEE Trans.
ASSP 38 (1990) 814), carried on past the onset with free amplitudes beside the plucked string's own tone, and taken
out. What rings at the string's own frequency cannot be told from it and stays.
"""

import numpy as np
from numpy.typing import NDArray

from analyzer.bands import Band
from analyzer.settings import PitchSettings
from analyzer.tone_fit import peak_hz

Vector = NDArray[np.float64]
Complex = NDArray[np.complex128]


def without_ring(band: Band, before: Complex, t: Vector, z: Complex, s: PitchSettings) -> tuple[Complex, float]:
    """The envelope less what rang before, and how much of that may remain (amplitude against the string's).

    `before`: the envelope before the onset; `t`, `z`: times and envelope after it.
    """
    poles = _pencil(before, s.ring_tones)
    if len(poles) == 0:
        return z, 1.0
    rates = np.log(poles) * band.rate_hz
    own = _own_rate(z, 1 / band.rate_hz)
    model = np.column_stack([np.exp(rates[None, :] * (t - t[0])[:, None]), np.exp(own * (t - t[0]))])
    amplitudes, *_ = np.linalg.lstsq(model, z, rcond=s.ring_condition)
    ringing = model[:, :-1] @ amplitudes[:-1]
    left = float(np.mean(np.abs(z - ringing) ** 2))
    share = min(float(np.sqrt(np.mean(np.abs(ringing) ** 2) / max(left, 1e-30))), 1.0)
    if np.any(np.abs((rates - own).imag) / (2 * np.pi) < s.ring_apart_hz):
        return z, share
    return z - ringing, share * s.ring_remains


def _own_rate(z: Complex, step_s: float) -> complex:
    """Complex rate (1/s) of the strongest tone of an envelope."""
    half = len(z) // 2
    ratio = float(np.mean(np.abs(z[half:]) ** 2)) / max(float(np.mean(np.abs(z[:half]) ** 2)), 1e-30)
    fall = 0.5 * np.log(max(ratio, 1e-12)) / (half * step_s)
    return complex(min(0.0, fall), 2 * np.pi * peak_hz(z, step_s))


def _pencil(z: Complex, tones: int) -> Complex:
    """Poles exp(rate·step) of up to `tones` damped sinusoids, by the matrix pencil; empty when too short."""
    length = len(z) // 2
    if length < tones + 1:
        return np.empty(0, dtype=np.complex128)
    hankel = np.lib.stride_tricks.sliding_window_view(z, length + 1)
    _, vectors = np.linalg.eigh(hankel.conj().T @ hankel)  # the strongest come last
    first, second = vectors[:-1, -tones:], vectors[1:, -tones:]
    poles = np.linalg.eigvals(np.linalg.solve(first.conj().T @ first, first.conj().T @ second)).conj()
    return np.asarray(poles[np.abs(poles) < 1.05], dtype=np.complex128)
