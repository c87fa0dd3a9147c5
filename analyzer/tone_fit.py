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

Conventions. Times in seconds, frequencies in Hz against the band's centre. Tones heard at the same times are fitted
together: arrays have a row for each, and values that do not count are masked.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from analyzer.settings import PitchSettings

Vector = NDArray[np.float64]
Table = NDArray[np.float64]
Mask = NDArray[np.bool_]
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
    whole = np.array([len(t)])
    return fit_tones(t, z[None], whole, np.array([noise]), np.array([glide_scale_hz_per_s]), s)[0]


def fit_tones(
    t: Vector, z: Complex, count: NDArray[np.int64], noise: Vector, glide_scale_hz_per_s: Vector, s: PitchSettings
) -> tuple[Tone | None, ...]:
    """Fit the tones `z` (N, K), of each the first `count` values, as `fit_tone` does one."""
    terms = np.minimum(s.residual_terms, count - 1)
    found: list[Tone | None] = [None] * len(z)
    for number in np.unique(terms):
        rows = np.flatnonzero(terms == number)
        length = int(count[rows].max())
        heard = np.arange(length) < count[rows, None]
        tones = _fitted(t[:length], z[rows, :length], heard, noise[rows], glide_scale_hz_per_s[rows], int(number), s)
        for row, tone in zip(rows, tones, strict=True):
            found[row] = tone
    return tuple(found)


def _fitted(
    t: Vector, z: Complex, heard: Mask, noise: Vector, glide_scale: Vector, terms: int, s: PitchSettings
) -> tuple[Tone | None, ...]:
    """Fit tones of enough values for `terms` polynomials each; `heard` (N, K) marks those that count."""
    peak = peaks_hz(np.where(heard, z, 0), heard, float(t[1] - t[0]))
    turned = z * np.exp(-2j * np.pi * peak[:, None] * (t - t[0]))
    power = z.real**2 + z.imag**2
    weight = np.where(heard, np.maximum(power - noise[:, None], 0.0), 0.0)
    stands_out = weight.sum(axis=1) > 0
    weight = np.where(stands_out[:, None], weight, heard)
    centre_s = weight @ t / weight.sum(axis=1)
    x = np.where(heard, t - centre_s[:, None], 0.0)
    value_noise = noise / s.independent_share
    line = _parabola(x, turned, weight / value_noise[:, None], glide_scale)
    basis, slopes = _basis(x, _fall(x, power, weight, s.most_fall_per_s), heard, terms)
    phase = line.phase[:, None] + line.hz[:, None] * x + line.glide[:, None] * x**2 / 2
    flat = turned * np.exp(-2j * np.pi * phase)
    c = (flat[:, None, :] @ basis)[:, 0]
    k = min(s.signal_terms, terms)
    rest = np.mean(_squared(c[:, k:]), axis=1) if terms > k else np.zeros(len(c))
    v = np.maximum(value_noise, rest)
    c, basis, slopes = c[:, :k], basis[:, :, :k], slopes[:, :k, :k]
    share = np.ones(c.shape)
    share[:, 2:] = np.maximum(0.0, 1 - s.shrink * v[:, None] / np.maximum(_squared(c[:, 2:]), 1e-300))
    kept = c * share
    energy = np.sum(_squared(kept), axis=1)
    stands_out &= energy >= s.least_snr * v
    energy = np.where(stands_out, energy, 1.0)
    # Im(m*·(m' + 2πi·glide·x·m)) / 2π as a form in c
    late = ((x * (basis @ kept[:, :, None])[:, :, 0])[:, None, :] @ basis)[:, 0]
    turning = (slopes - slopes.transpose(0, 2, 1)) @ kept[:, :, None]
    moved = turning[:, :, 0] / (4j * np.pi) + line.glide[:, None] * late
    mean = np.sum((kept.conj() * moved).real, axis=1) / energy
    gradient = moved - mean[:, None] * kept
    spread = np.where(share > 0, v[:, None], 0.0)
    if k > 3:
        spread[:, 1:3] += s.room_share * np.mean(_squared(kept[:, 3:6]), axis=1)[:, None]
    variance = 2 * np.sum(spread * _squared(gradient), axis=1) / energy**2
    later_s = np.sum((kept.conj() * late).real, axis=1) / energy
    glide_deviation = line.glide_deviation * np.sqrt(v / value_noise)
    return tuple(
        Tone(
            offset_hz=float(peak[i] + line.hz[i] + mean[i]),
            deviation_hz=float(np.sqrt(variance[i])),
            glide_hz_per_s=float(line.glide[i]),
            glide_deviation_hz_per_s=float(glide_deviation[i]),
            centre_s=float(centre_s[i] + later_s[i]),
            power=float(energy[i] / heard[i].sum()),
            snr=float(energy[i] / v[i]),
        )
        if stands_out[i]
        else None
        for i in range(len(z))
    )


def _squared(z: Complex) -> Table:
    squared: Table = z.real**2 + z.imag**2
    return squared


def peak_hz(z: Complex, step_s: float) -> float:
    """Frequency of the strongest tone of an envelope, to a fraction of its resolution."""
    return float(peaks_hz(z[None], np.ones((1, len(z)), dtype=bool), step_s)[0])


def peaks_hz(z: Complex, heard: Mask, step_s: float) -> Vector:
    """The same for each row of `z`, zero where not `heard` (N, K), which its first values are."""
    import scipy.fft

    size: int = scipy.fft.next_fast_len(2 * z.shape[1])
    place = np.arange(1, z.shape[1] + 1) / (heard.sum(axis=1, keepdims=True) + 1)
    hann = 0.5 - 0.5 * np.cos(2 * np.pi * place)
    spectrum = np.abs(scipy.fft.fft(z * hann, size, axis=1))
    rows, top = np.arange(len(z)), spectrum.argmax(axis=1)
    left, mid, right = (spectrum[rows, (top + k) % size] for k in (-1, 0, 1))
    bend = left - 2 * mid + right
    part = np.where(bend < 0, 0.5 * (left - right) / np.where(bend < 0, bend, 1.0), 0.0)
    return np.asarray((top + part - np.where(top > size // 2, size, 0)) / (size * step_s))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Parabola:
    """Of each tone, (N,)."""

    phase: Vector
    hz: Vector
    glide: Vector
    glide_deviation: Vector


def _parabola(x: Table, turned: Complex, information: Table, glide_scale: Vector) -> _Parabola:
    """Phase in turns as phase + hz·x + glide·x²/2; `information`: 1/(2·variance) of the phase in radians."""
    phase = np.unwrap(np.angle(turned), axis=1) / (2 * np.pi)
    weight = information * (2 * (2 * np.pi) ** 2)
    columns = np.stack([np.ones_like(x), x, x * x / 2], axis=1)
    weighted = columns * weight[:, None, :]
    normal = weighted @ columns.transpose(0, 2, 1)
    normal[:, 2, 2] += 1 / glide_scale**2
    normal[:, np.arange(3), np.arange(3)] *= 1 + 1e-12
    covariance = np.linalg.inv(normal)
    solution = (covariance @ (weighted @ phase[:, :, None]))[:, :, 0]
    return _Parabola(
        phase=solution[:, 0],
        hz=solution[:, 1],
        glide=solution[:, 2],
        glide_deviation=np.sqrt(covariance[:, 2, 2]),
    )


def _fall(x: Table, power: Table, weight: Table, most: float) -> Vector:
    """(N,) rate of decay of the amplitude, 1/s."""
    y = np.log(np.maximum(power, 1e-30))
    y -= (np.sum(weight * y, axis=1) / weight.sum(axis=1))[:, None]
    slope = np.sum(weight * x * y, axis=1) / np.maximum(np.sum(weight * x**2, axis=1), 1e-30)
    return np.asarray(np.clip(-slope / 2, -most / 10, most))


def _basis(x: Table, fall: Vector, heard: Mask, terms: int) -> tuple[Table, Table]:
    """Orthonormal columns exp(-fall·x)·polynomial, (N, K, terms), and their derivatives in terms of each other.

    The derivatives leave out the decay's own part and are (N, terms, terms): column k is that of the basis's column k.
    """
    count = heard.sum(axis=1)
    at = np.where(heard, np.arange(x.shape[1]) * (2 / (count - 1))[:, None] - 1, 0.0)
    damped = np.where(heard, np.exp(-fall[:, None] * x), 0.0)
    basis, triangle = np.linalg.qr(damped[:, :, None] * np.polynomial.legendre.legvander(at, terms - 1))
    half_s = (x[np.arange(len(x)), count - 1] - x[:, 0]) / 2
    right = (triangle @ _legendre_slopes(terms)).transpose(0, 2, 1)
    slopes = np.linalg.solve(triangle.transpose(0, 2, 1), right).transpose(0, 2, 1)
    return basis, slopes / half_s[:, None, None]


@lru_cache(maxsize=64)
def _legendre_slopes(terms: int) -> Vector:
    """Column k holds the Legendre coefficients of the derivative of the k-th polynomial."""
    slopes = np.zeros((terms, terms))
    for k in range(1, terms):
        slopes[:k, k] = np.polynomial.legendre.legder(np.eye(terms)[k])[:k]
    return slopes
