"""Known truths from physics: single plucks of strings, by laws not shared with the analyzer.

A string is a set of modes (modal synthesis). Partial n of a stiff string lies at f_n = n·f_0·√(1 + B·n²)
(Fletcher, JASA 36 (1964) 203) and lives in two polarisations of slightly different frequency and decay. Its
amplitude falls as exp(-σ_n·t) with σ_n = π·f_n·η_n and η_n = η_air/n + η_internal + B·n²·η_E (constant,
linear and bending losses; Woodhouse, Euphonics 7.2.2, for the last). Plucked at the share β of its length
with a finger of relative width w, the partials start as sin(nπβ)/n · exp(-(n·π·w)²/2). The pitch glides
down exponentially from the pluck; a finger noise, a soundboard knock and the radiation of a body with a few
modes are added. In a harp, earlier strings ring on until the hand muffles them; strings in tune with a
partial of the plucked one answer as driven resonators.

Usual values (T60 about 7 s at C2 to 1 s at A6, B 1e-5 to 1e-3): estimates for invented harps, no source.

Truths follow the pitch and decay definitions of the product. Everything comes from the generator handed in:
the same seed gives the same samples. Whole harps are in `synth_harp`; room, noise, phone and disturbances
in `synth_sounds`.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float64]
Complex = NDArray[np.complex128]

LN_1000 = np.log(1000.0)  # an amplitude falls by 60 dB in ln(1000) time constants
SETTLED_S = 0.05  # decay truths count from here after the onset
PITCH_WINDOW_S = (0.15, 1.35)
HIGH_PITCH_WINDOW_S = (0.05, 1.35)  # above 1.5 kHz
PLUCK_RMS = 0.08  # of a pluck of strength 0 dB, full scale 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """A soundboard: a few resonances over a broad floor."""

    modes_hz: tuple[float, ...] = (112.0, 173.0, 228.0, 341.0, 415.0, 580.0)
    quality: tuple[float, ...] = (14.0, 18.0, 20.0, 22.0, 25.0, 25.0)
    level: tuple[float, ...] = (0.9, 1.0, 0.7, 0.8, 0.5, 0.5)

    def gain(self, at_hz: Samples) -> Samples:
        """Radiation at these frequencies, linear; falls below the lowest mode and above 4 kHz."""
        ratio = at_hz[:, None] / np.asarray(self.modes_hz)
        q = np.asarray(self.quality)
        peaks = np.asarray(self.level) / q / np.abs(1 - ratio**2 + 1j * ratio / q)
        floor = 0.35 / np.sqrt(1 + (at_hz / 4000) ** 2) / (1 + (90 / at_hz) ** 2)
        return np.asarray(floor + peaks.sum(axis=1))


def usual_t60_s(f1_hz: float) -> float:
    return float(7.0 * (f1_hz / 65.4) ** -0.6)


def usual_inharmonicity(f1_hz: float) -> float:
    """Wound wires below 105 Hz: 4e-4 falling to 1e-4; gut and nylon above: 2e-5 rising to 8e-4 at 3 kHz."""
    if f1_hz < 105:
        return float(4e-4 * (f1_hz / 32.7) ** -1.2)
    return float(2e-5 * (f1_hz / 105) ** 1.1)


@dataclass(frozen=True, slots=True, kw_only=True)
class PluckSpec:
    """One pluck of one string."""

    f1_hz: float
    """First partial at rest, in the stronger polarisation."""
    inharmonicity: float | None = None
    """B; None for the usual one of this pitch."""
    t60_s: float | None = None
    """Of the first partial in the stronger polarisation, before `damping_factor`; None for the usual one."""
    damping_factor: float = 1.0
    """All losses times this: 2 for a string twice as damped as its own kind."""
    air_share: float = 0.35
    """Share of η_air in the first partial's loss; η_internal is the rest but for bending."""
    bending_loss: float = 0.03
    """η_E."""
    uneven: tuple[float, ...] = ()
    """Natural logarithms by which single partials, from the first, lose more than the law: the soundboard takes energy
    unevenly over frequency. Partials beyond the list follow the law."""
    split_hz: float = 0.0
    """How much higher the weaker polarisation's first partial lies; in proportion for the others."""
    second_db: float = -9.0
    """Level of the weaker polarisation; -inf for a single one."""
    second_decay_ratio: float = 1.3
    """Its decay time over the stronger one's."""
    pluck_at: float = 0.37
    """β, share of the length."""
    pluck_width: float = 0.02
    """w, share of the length."""
    strength_db: float = 0.0
    glide_cents: float = 2.0
    """How much higher the pitch is at the onset than at rest."""
    glide_s: float = 0.3
    """Time constant of its fall."""
    finger_db: float = -12.0
    """Noise of the finger leaving the string, RMS over 4 ms against the string's; -inf for none."""
    knock_db: float = -14.0
    """Soundboard knock against the string; -inf for none."""
    body: Body | None = field(default_factory=Body)
    """None: radiates the same at all frequencies."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartialTruth:
    number: int
    frequency_hz: float
    """At rest, stronger polarisation."""
    t60_s: float
    """Of the stronger polarisation."""
    level_db: float
    """At the onset against the strongest partial, as radiated."""
    split_hz: float


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteTruth:
    pitch_hz: float
    """Energy-weighted mean instantaneous frequency of the first partial over 0.15-1.35 s after the onset
    (from 0.05 s above 1.5 kHz), or to the end of the sound."""
    f1_hz: float
    inharmonicity: float
    decay_s: float
    """T20 of the dry string's Schroeder curve, free of noise, from SETTLED_S after the onset."""
    partials: tuple[PartialTruth, ...]
    damping_factor: float
    split_hz: float


class _Modes(NamedTuple):
    """Partials of one pluck: arrays over [stronger polarisation's partials, weaker one's]."""

    number: NDArray[np.int64]
    frequency_hz: Samples
    fall_per_s: Samples
    amplitude: Complex


def _modes(spec: PluckSpec, rate_hz: int, rng: np.random.Generator) -> _Modes:
    b = usual_inharmonicity(spec.f1_hz) if spec.inharmonicity is None else spec.inharmonicity
    t60_s = usual_t60_s(spec.f1_hz) if spec.t60_s is None else spec.t60_s
    n = np.arange(1, 81)
    f_hz = n * spec.f1_hz * np.sqrt((1 + b * n**2) / (1 + b))
    n = n[f_hz < min(0.45 * rate_hz, 14000)]
    f_hz = f_hz[: n.size]
    eta_first = LN_1000 / (np.pi * spec.f1_hz * t60_s)
    eta_bending = b * n**2 * spec.bending_loss
    eta_internal = max(eta_first * (1 - spec.air_share) - eta_bending[0], 0.0)
    fall = np.pi * f_hz * (eta_first * spec.air_share / n + eta_internal + eta_bending) * spec.damping_factor
    odd = min(len(spec.uneven), n.size)
    fall[:odd] *= np.exp(spec.uneven[:odd])
    shape = np.abs(np.sin(n * np.pi * spec.pluck_at)) / n * np.exp(-((n * np.pi * spec.pluck_width) ** 2) / 2)
    if spec.body is not None:
        shape = shape * spec.body.gain(f_hz)
    second = 10 ** (spec.second_db / 20)
    amplitude = np.concatenate([shape, shape * second])
    amplitude *= PLUCK_RMS * 10 ** (spec.strength_db / 20) * np.sqrt(2 / np.sum(amplitude**2))
    phase = np.tile(rng.uniform(0, 2 * np.pi, n.size), 2)
    return _Modes(
        number=np.tile(n, 2),
        frequency_hz=np.concatenate([f_hz, f_hz * (1 + spec.split_hz / spec.f1_hz)]),
        fall_per_s=np.concatenate([fall, fall / spec.second_decay_ratio]),
        amplitude=amplitude * np.exp(1j * phase),
    )


def _glided(t_s: Samples, spec: PluckSpec) -> tuple[Samples, Samples]:
    """The glide as a warped time u(t), so that phases are 2π·f·u, and its rate du/dt."""
    rise = 2 ** (spec.glide_cents / 1200) - 1
    fall = np.exp(-t_s / spec.glide_s)
    return t_s + rise * spec.glide_s * (1 - fall), 1 + rise * fall


def modal_sum(
    fall_per_s: Samples,
    frequency_hz: Samples,
    amplitude: Complex,
    sample_n: int,
    rate_hz: int,
    warp: Callable[[Samples], tuple[Samples, Samples]] = lambda t_s: (t_s, np.ones_like(t_s)),
) -> Samples:
    """Sum of Re(a·exp(-σ·t + 2πi·f·u(t))), shape (sample_n,).

    By stretches of constant rate of u, each one matrix product of block starts and within-block oscillations;
    what u departs from a straight line inside a block enters to first order. Modes are dropped when 100 dB
    below the start's sum.
    """
    block_n = 64
    total = np.zeros(-(-sample_n // block_n) * block_n)
    floor = 1e-5 * np.abs(amplitude).sum()
    inner_s = (np.arange(block_n) - block_n / 2) / rate_hz
    start = 0
    while start < sample_n:
        begins = start / rate_hz
        bent = abs(warp(np.array([begins]))[1][0] - 1) > 1e-8
        stretch_n = min(block_n * max(1, int((0.04 if bent else 0.5) * rate_hz / block_n)), total.size - start)
        live = np.abs(amplitude) * np.exp(-fall_per_s * begins) > floor
        if not live.any():
            break
        fall, omega, a = fall_per_s[live], 2 * np.pi * frequency_hz[live], amplitude[live]
        centre_s = (start + block_n / 2 + np.arange(0, stretch_n, block_n)) / rate_hz
        u_s, _ = warp(centre_s)
        slope = float(warp(np.array([begins + stretch_n / 2 / rate_hz]))[1][0])
        outer = a * np.exp(-fall * centre_s[:, None] + 1j * omega * u_s[:, None])
        inner = np.exp((-fall + 1j * omega * slope)[:, None] * inner_s)
        parts = np.concatenate([inner.real, -inner.imag])
        wave = np.concatenate([outer.real, outer.imag], axis=1) @ parts
        if bent:
            turned = outer * (1j * omega)
            rate = np.concatenate([turned.real, turned.imag], axis=1) @ parts
            every_s = centre_s[:, None] + inner_s
            wave += (warp(every_s)[0] - u_s[:, None] - slope * inner_s) * rate
        total[start : start + stretch_n] = wave.ravel()
        start += stretch_n
    return total[:sample_n]


def _pitch_hz(modes: _Modes, spec: PluckSpec, duration_s: float) -> float:
    """Energy-weighted mean instantaneous frequency of the first partial, both polarisations together."""
    first = modes.number == 1
    f_hz, fall, a = modes.frequency_hz[first], modes.fall_per_s[first], modes.amplitude[first]
    begins_s, ends_s = HIGH_PITCH_WINDOW_S if spec.f1_hz > 1500 else PITCH_WINDOW_S
    t_s = np.linspace(min(begins_s, 0.5 * duration_s), min(ends_s, duration_s), 4001)
    u_s, rate = _glided(t_s, spec)
    beat = a[:, None] * np.exp(-fall[:, None] * t_s + 2j * np.pi * (f_hz - spec.f1_hz)[:, None] * u_s)
    z = beat.sum(axis=0)
    turn_hz = (beat * f_hz[:, None]).sum(axis=0) * rate
    energy = np.abs(z) ** 2
    # Im(z*·z')/2π = Re(z*·Σ f·z_p)·u' - Im(z*·Σ σ·z_p)/2π
    slip = np.imag(np.conj(z) * (beat * fall[:, None]).sum(axis=0)) / (2 * np.pi)
    return float(np.sum(np.real(np.conj(z) * turn_hz) - slip) / np.sum(energy))


def schroeder_decay_s(fall_per_s: Samples, frequency_hz: Samples, amplitude: Complex, number: Samples) -> float:
    """T20 (-5 to -25 dB) of the backward-integrated energy of these modes, from SETTLED_S on, in closed form.

    Modes of one partial interfere (they beat); different partials do not, over times that matter. The
    integral of |Σ a·exp(-σt + iωt)|² from t on is
    Σ_jk a_j·a_k*·exp(p·t)/(-p) with p = -(σ_j+σ_k) + i(ω_j-ω_k).
    """
    slowest_s = float(LN_1000 / fall_per_s.min())
    t_s = SETTLED_S + np.linspace(0, slowest_s, 1500)
    curve = np.zeros_like(t_s)
    for n in np.unique(number):
        s = -fall_per_s[number == n] + 2j * np.pi * (frequency_hz[number == n] - frequency_hz[number == n][0])
        a = amplitude[number == n]
        pair = (s[:, None] + np.conj(s)).ravel()
        weight = (a[:, None] * np.conj(a)).ravel() / -pair
        curve += np.real(weight @ np.exp(pair[:, None] * t_s))
    curve_db = 10 * np.log10(np.maximum(curve / curve[0], 1e-12))
    used = (curve_db <= -5) & (curve_db >= -25)
    return float(-60 / np.polyfit(t_s[used], curve_db[used], 1)[0])


def _truth(spec: PluckSpec, modes: _Modes, duration_s: float) -> NoteTruth:
    half = modes.number.size // 2
    level = np.abs(modes.amplitude[:half])
    b = usual_inharmonicity(spec.f1_hz) if spec.inharmonicity is None else spec.inharmonicity
    partials = tuple(
        PartialTruth(
            number=int(modes.number[i]),
            frequency_hz=float(modes.frequency_hz[i]),
            t60_s=float(LN_1000 / modes.fall_per_s[i]),
            level_db=float(20 * np.log10(max(level[i] / level.max(), 1e-12))),
            split_hz=float(modes.frequency_hz[half + i] - modes.frequency_hz[i]),
        )
        for i in range(half)
    )
    return NoteTruth(
        pitch_hz=_pitch_hz(modes, spec, duration_s),
        f1_hz=spec.f1_hz,
        inharmonicity=b,
        decay_s=schroeder_decay_s(modes.fall_per_s, modes.frequency_hz, modes.amplitude, modes.number),
        partials=partials,
        damping_factor=spec.damping_factor,
        split_hz=spec.split_hz,
    )


def _attack(spec: PluckSpec, sample_n: int, rate_hz: int, rng: np.random.Generator) -> Samples:
    """Finger noise and soundboard knock, at most 0.6 s, zero after it."""
    sound = np.zeros(sample_n)
    rms = PLUCK_RMS * 10 ** (spec.strength_db / 20)
    length_n = min(sample_n, int(0.6 * rate_hz))
    t_s = np.arange(length_n) / rate_hz
    noise = rng.standard_normal(length_n) * np.exp(-t_s / 0.004)
    sound[:length_n] += rms * 10 ** (spec.finger_db / 20) * noise
    body = spec.body or Body()
    modes_hz = np.asarray(body.modes_hz)
    phase = rng.uniform(0, 2 * np.pi, modes_hz.size)
    wave = np.exp(-np.pi * modes_hz[:, None] / np.asarray(body.quality)[:, None] * t_s) * np.sin(
        2 * np.pi * modes_hz[:, None] * t_s + phase[:, None]
    )
    sound[:length_n] += rms * 10 ** (spec.knock_db / 20) * (np.asarray(body.level) @ wave)
    return sound


def pluck(
    spec: PluckSpec,
    duration_s: float,
    rate_hz: int = 44100,
    rng: np.random.Generator | None = None,
    answering: tuple[PluckSpec, ...] = (),
    coupling_per_s: float = 0.0,
    heard_s: float | None = None,
) -> tuple[Samples, NoteTruth]:
    """The sound of one pluck from its onset on, shape (duration·rate,), and what is true of it.

    `answering` strings resonate with partials near their own: a partial a·exp(s₁t) drives theirs at s₂ to
    a·κ·(exp(s₁t) - exp(s₂t))/(s₁ - s₂), κ = `coupling_per_s`. The truth is the plucked string's own; its
    pitch window ends at `heard_s` (None: the end) where the sound is to be muffled by the caller.
    """
    rng = np.random.default_rng(0) if rng is None else rng
    modes = _modes(spec, rate_hz, rng)
    sample_n = int(duration_s * rate_hz)
    fall, f_hz, a = modes.fall_per_s, modes.frequency_hz, modes.amplitude
    if coupling_per_s > 0:
        fall, f_hz, a = _with_answers(modes, answering, coupling_per_s, rate_hz)
    sound = modal_sum(fall, f_hz, a, sample_n, rate_hz, lambda t_s: _glided(t_s, spec))
    rise_n = min(sample_n, max(2, int(0.0015 * rate_hz)))
    sound[:rise_n] *= np.sin(0.5 * np.pi * np.arange(rise_n) / rise_n) ** 2
    return sound + _attack(spec, sample_n, rate_hz, rng), _truth(
        spec, modes, duration_s if heard_s is None else heard_s
    )


def _with_answers(
    modes: _Modes, answering: tuple[PluckSpec, ...], coupling_per_s: float, rate_hz: int
) -> tuple[Samples, Samples, Complex]:
    half = modes.number.size // 2
    driver = -modes.fall_per_s[:half] + 2j * np.pi * modes.frequency_hz[:half]
    extra_s, extra_a = [np.zeros(0, complex)], [np.zeros(0, complex)]
    for other in answering:
        theirs = _modes(other, rate_hz, np.random.default_rng(0))
        keep = min(5, theirs.number.size // 2)
        own = -theirs.fall_per_s[:keep] + 2j * np.pi * theirs.frequency_hz[:keep]
        apart = driver[:, None] - own
        apart = np.where(np.abs(apart) < 1e-3, 1e-3, apart)
        i, j = np.nonzero(np.abs(apart) < 300 * coupling_per_s)
        share = modes.amplitude[i] * coupling_per_s / apart[i, j]
        extra_s += [driver[i], own[j]]
        extra_a += [share, -share]
    s = np.concatenate(extra_s)
    return (
        np.concatenate([modes.fall_per_s, -s.real]),
        np.concatenate([modes.frequency_hz, s.imag / (2 * np.pi)]),
        np.concatenate([modes.amplitude, *extra_a]),
    )
