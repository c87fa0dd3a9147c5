"""The frequency of one tone from its complex envelope, as the definition of pitch means it, with its uncertainty.

Task. From z(t) of one partial (`bands`) to the mean of its instantaneous frequency weighted by its energy, close to
what noise allows, and true to the definition where two polarisations beat or the pitch glides.

Method. A weighted parabola through the unwrapped phase (Tretter, IEEE Trans. Inf. Theory 31 (1985) 832) and a straight
line through the log amplitude give a damped, gliding sinusoid; its curvature is held near zero by what harp strings do.
What z departs from it is expanded in polynomials orthonormal on that sinusoid, so that every coefficient carries the
same noise. The first two make up the damped sinusoid in white noise and its maximum-likelihood frequency; higher ones
count as far as they stand out of the noise (Stein's positive-part shrinkage: Efron & Morris, JASA 68 (1973) 117). For
m(t) = Σ c_k·a_k(t) the definition Im∫m*·m' / ∫|m|² is a Rayleigh quotient of c, and its variance follows from its
gradient (JCGM 100, 5.1.2). The polynomials past those a string's beats need show what else is in the band (a room, a
knock, another string): their mean power stands for the noise where it is larger.

Conventions. Times in seconds, frequencies in Hz against the band's centre.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from analyzer.settings import PitchSettings

Vector = NDArray[np.float64]
Complex = NDArray[np.complex128]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tone:
    """One tone within a window."""

    offset_hz: float
    """Energy-weighted mean frequency against the band's centre."""
    deviation_hz: float
    """Its standard deviation."""
    glide_hz_per_s: float
    glide_deviation_hz_per_s: float
    centre_s: float
    """Centre of its energy."""
    power: float
    """Mean |z|² over the window, less the noise's."""
    snr: float
    """Energy against the noise's in the one value that carries it."""


def fit_tone(t: Vector, z: Complex, noise: float, glide_scale_hz_per_s: float, s: PitchSettings) -> Tone | None:
    """Fit one tone; None where it does not stand out of `noise` (mean |z|² of noise alone)."""
    step_s = float(t[1] - t[0])
    peak = peak_hz(z, step_s)
    turned = z * np.exp(-2j * np.pi * peak * (t - t[0]))
    power = np.abs(z) ** 2
    weight = np.maximum(power - noise, 0.0)
    if weight.sum() <= 0:
        return None
    centre_s = float(weight @ t / weight.sum())
    x = t - centre_s
    value_noise = noise / s.independent_share
    line = _parabola(x, turned, weight / value_noise, glide_scale_hz_per_s)
    fall = _fall(x, power, weight, s.most_fall_per_s)
    basis, slopes = _basis(x, fall, min(s.residual_terms, len(t) - 1))
    flat = turned * np.exp(-2j * np.pi * (line.phase + line.hz * x + line.glide * x**2 / 2))
    c = basis.T @ flat
    tail = c[s.signal_terms :]
    rest = float(np.mean(np.abs(tail) ** 2)) if len(tail) else 0.0
    v = max(value_noise, rest)
    k = min(s.signal_terms, len(c))
    c, basis, slopes = c[:k], basis[:, :k], slopes[:k, :k]
    share = np.ones(k)
    share[2:] = np.maximum(0.0, 1 - s.shrink * v / np.maximum(np.abs(c[2:]) ** 2, 1e-300))
    kept = c * share
    energy = float(np.sum(np.abs(kept) ** 2))
    if energy < s.least_snr * v:
        return None
    # Im(m*·(m' + 2πi·glide·x·m)) / 2π as a form in c
    late = basis.T @ (x * (basis @ kept))
    moved = (slopes - slopes.T) @ kept / (4j * np.pi) + line.glide * late
    mean = float(np.real(np.vdot(kept, moved))) / energy
    gradient = moved - mean * kept
    spread = np.where(share > 0, v, 0.0)
    spread[1:3] += s.room_share * float(np.mean(np.abs(kept[3:6]) ** 2)) if k > 3 else 0.0
    variance = 2 * float(spread @ np.abs(gradient) ** 2) / energy**2
    return Tone(
        offset_hz=peak + line.hz + mean,
        deviation_hz=float(np.sqrt(variance)),
        glide_hz_per_s=line.glide,
        glide_deviation_hz_per_s=line.glide_deviation * float(np.sqrt(v / value_noise)),
        centre_s=centre_s + float(np.real(np.vdot(kept, late))) / energy,
        power=energy / len(t),
        snr=energy / v,
    )


def peak_hz(z: Complex, step_s: float) -> float:
    """Frequency of the strongest tone of an envelope, to a fraction of its resolution."""
    import scipy.fft

    size: int = scipy.fft.next_fast_len(2 * len(z))
    spectrum = np.abs(scipy.fft.fft(z * _hann(len(z)), size))
    top = int(spectrum.argmax())
    left, mid, right = spectrum[top - 1], spectrum[top], spectrum[(top + 1) % size]
    bend = left - 2 * mid + right
    part = 0.5 * (left - right) / bend if bend < 0 else 0.0
    return (top + part - (size if top > size // 2 else 0)) / (size * step_s)


@lru_cache(maxsize=64)
def _hann(length: int) -> Vector:
    return np.hanning(length + 2)[1:-1]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Parabola:
    phase: float
    hz: float
    glide: float
    glide_deviation: float


def _parabola(x: Vector, turned: Complex, information: Vector, glide_scale: float) -> _Parabola:
    """Phase in turns as phase + hz·x + glide·x²/2; `information`: 1/(2·variance) of the phase in radians."""
    phase = np.unwrap(np.angle(turned)) / (2 * np.pi)
    weight = information * (2 * (2 * np.pi) ** 2)
    columns = np.stack([np.ones_like(x), x, x * x / 2])
    weighted = columns * weight
    normal = weighted @ columns.T
    normal[2, 2] += 1 / glide_scale**2
    normal[np.diag_indices(3)] *= 1 + 1e-12
    right = weighted @ phase
    covariance = np.linalg.inv(normal)
    solution = covariance @ right
    return _Parabola(
        phase=float(solution[0]),
        hz=float(solution[1]),
        glide=float(solution[2]),
        glide_deviation=float(np.sqrt(covariance[2, 2])),
    )


def _fall(x: Vector, power: Vector, weight: Vector, most: float) -> float:
    """Rate of decay of the amplitude, 1/s."""
    y = np.log(np.maximum(power, 1e-30))
    total = weight.sum()
    slope = float(weight @ (x * (y - weight @ y / total))) / max(float(weight @ x**2), 1e-30)
    return float(np.clip(-slope / 2, -most / 10, most))


def _basis(x: Vector, fall: float, terms: int) -> tuple[Vector, Vector]:
    """Orthonormal columns exp(-fall·x)·polynomial, (K, terms), and their derivatives in terms of each other.

    The derivatives leave out the decay's own part, and are (terms, terms): column k is that of column k of the basis.
    """
    at = np.linspace(-1, 1, len(x))
    basis, triangle = np.linalg.qr(np.exp(-fall * x)[:, None] * np.polynomial.legendre.legvander(at, terms - 1))
    half_s = (x[-1] - x[0]) / 2
    slopes: Vector = np.linalg.solve(triangle.T, (triangle @ _legendre_slopes(terms)).T).T / half_s
    return basis, slopes


@lru_cache(maxsize=64)
def _legendre_slopes(terms: int) -> Vector:
    """Column k holds the Legendre coefficients of the derivative of the k-th polynomial."""
    slopes = np.zeros((terms, terms))
    for k in range(1, terms):
        slopes[:k, k] = np.polynomial.legendre.legder(np.eye(terms)[k])[:k]
    return slopes
