"""The pitch of a matched pluck, with its interval.

Task. Given which string it is, hence about where its partials lie, measure the frequency of its first partial: the
mean instantaneous frequency, weighted by energy, over 0.15 to 1.35 s after the onset (from 0.05 s above 1.5 kHz, and
only while it stands clear of the noise).

Method. Each partial is brought to a complex envelope in a narrow band (`bands`). What still rings from earlier
strings is modelled before the onset as one or two damped sinusoids (matrix pencil: Hua & Sarkar, IEEE Trans. ASSP 38
(1990) 814), carried on past it with free amplitudes, and taken out. The phase that remains is fitted by a parabola,
weighted by energy (for a damped sinusoid in white noise close to the Cramér-Rao bound: Tretter, IEEE Trans. Inf.
Theory 31 (1985) 832); its curvature is the glide after the pluck, held near zero by what harp strings do. Partials are
joined by the stiff-string law f_n = n·f_1·√((1+B·n²)/(1+B)) with a scatter of their own, found from the partials
themselves (DerSimonian & Laird, Control. Clin. Trials 7 (1986) 177): where they obey the law they help, where they do
not the first partial speaks alone. Where it is not to be measured it is inferred from the others, and the interval
widens.

Conventions. Frequencies in Hz, deviations and standard deviations in cents (1/1200 octave). `u95` is the half-width of
the 95 % interval; parts common to the whole recording (the recorder's clock) are added by `survey`.

Known limits. Two neighbouring strings ringing within about a hertz of the partial cannot be told from it; the interval
then says so. Frequencies are at the time where the first partial's energy has its centre.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.bands import Band, PluckBands, noise_power
from analyzer.settings import PitchSettings

Vector = NDArray[np.float64]
Complex = NDArray[np.complex128]

CENTS = 1200 / np.log(2)
"""Cents to a unit of natural logarithm of frequency."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Partial:
    """One partial as measured."""

    number: int
    frequency_hz: float
    """At the centre of its energy within the window."""
    deviation_cents: float
    """Standard deviation of the frequency, from noise and from what the fit leaves over."""
    glide_cents_per_s: float
    level_db: float
    """Mean level in the window, dB below full scale."""
    clear_db: float
    """Above the noise of its band."""
    ring_db: float
    """What sounded in its band before the onset, against it."""
    centre_s: float
    """Centre of its energy, from the onset."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pitch:
    """The pitch of one pluck."""

    pitch_hz: float
    cents_u95: float
    inferred: bool
    """True where the first partial was not measurable and the law of the others gives it."""
    inharmonicity: float | None
    """B; None with fewer than three partials."""
    law_scatter_cents: float | None
    """How far single partials lie off the stiff-string law."""
    partials: tuple[Partial, ...]


def measure(
    bands: PluckBands,
    seed_hz: float,
    end_s: float,
    ring_from_s: float,
    stiffness: tuple[float, float] | None,
    settings: PitchSettings,
) -> Pitch | None:
    """Measure one pluck; None where no partial stands clear of the noise.

    `seed_hz` is the first partial to within some 40 cents; `end_s` where the sound stops being usable and `ring_from_s`
    (negative) where the stretch before the onset that shows what still rings begins, both from the onset; `stiffness`
    is what the layout leads one to expect of B, with the natural log of the factor by which it may be off.
    """
    span = _window(seed_hz, end_s, settings)
    if span is None:
        return None
    found = []
    tuned_hz = seed_hz
    for number in range(1, settings.partials + 1):
        expected_hz = tuned_hz * number * np.sqrt(1 + (stiffness[0] if stiffness else 0.0) * (number**2 - 1))
        if expected_hz > min(settings.highest_hz, bands.highest_hz):
            break
        partial = _partial(bands, number, expected_hz, seed_hz, span, ring_from_s, settings)
        if partial is None:
            continue
        if number == 1 and partial.ring_db < settings.tuned_ring_db:
            tuned_hz = partial.frequency_hz
        found.append(partial)
    return _joined(tuple(found), seed_hz, stiffness, settings) if found else None


def _window(seed_hz: float, end_s: float, s: PitchSettings) -> tuple[float, float] | None:
    start_s = s.start_s if seed_hz < s.high_above_hz else s.high_start_s
    stop_s = min(s.stop_s, end_s - s.guard_s)
    if stop_s - start_s < s.least_s:
        start_s = max(s.earliest_s, stop_s - s.least_s)
    return (start_s, stop_s) if stop_s - start_s >= s.least_s / 2 else None


def _partial(
    bands: PluckBands,
    number: int,
    expected_hz: float,
    seed_hz: float,
    span: tuple[float, float],
    ring_from_s: float,
    s: PitchSettings,
) -> Partial | None:
    half_hz = float(np.clip(s.band_share * seed_hz, s.band_least_hz, s.band_most_hz))
    band = bands.band(expected_hz, half_hz)
    noise = noise_power(bands, expected_hz, half_hz, seed_hz / 2, span)
    inside = band.within(*span)
    t, z = band.times_s[inside], band.envelope[inside]
    if len(t) < s.least_values:
        return None
    before = band.envelope[band.within(max(ring_from_s, -s.ring_s), -s.guard_s)]
    ring = float(np.mean(np.abs(before) ** 2)) if len(before) else 0.0
    ring_db = 10 * np.log10((ring + noise * 1e-3) / (float(np.mean(np.abs(z) ** 2)) + 1e-30) + 1e-12)
    left_over = 0.0
    if ring_db > s.ring_matters_db and ring > s.ring_clear * noise:
        z, left_over = _without_ring(band, before, t, z, expected_hz, s)
    keep = _clear(z, noise, band, s)
    if keep < s.least_values:
        return None
    t, z = t[:keep], z[:keep]
    fit = _fit_phase(t, z, noise, band, expected_hz, s)
    if fit is None:
        return None
    offset_hz, deviation_hz, glide_hz_per_s, centre_s = fit
    frequency_hz = band.centre_hz + offset_hz
    if abs(CENTS * np.log(frequency_hz / expected_hz)) > s.seek_cents:
        return None
    power = float(np.mean(np.abs(z) ** 2))
    pulled = left_over * s.ring_pull_hz
    return Partial(
        number=number,
        frequency_hz=frequency_hz,
        deviation_cents=float(CENTS * np.hypot(deviation_hz, pulled) / frequency_hz),
        glide_cents_per_s=float(CENTS * glide_hz_per_s / frequency_hz),
        level_db=float(10 * np.log10(power / 2 + 1e-12)),
        clear_db=float(10 * np.log10(power / noise)),
        ring_db=float(ring_db),
        centre_s=centre_s,
    )


def _clear(z: Complex, noise: float, band: Band, s: PitchSettings) -> int:
    """How many values from the start stand clear of the noise, in power smoothed over a band's own memory."""
    power = np.abs(z) ** 2
    clear = np.flatnonzero(power > s.clear_power * noise)
    return int(clear[-1]) + 1 if len(clear) >= s.least_values else 0


def _without_ring(
    band: Band, before: Complex, t: Vector, z: Complex, expected_hz: float, s: PitchSettings
) -> tuple[Complex, float]:
    """The envelope less what rang before, and how much of that may remain (amplitude against the string's)."""
    poles = _pencil(before, s.ring_tones)
    if len(poles) == 0:
        return z, 1.0
    step_s = 1 / band.rate_hz
    rates = np.log(poles) / step_s
    near_hz = CENTS * np.abs(np.log((band.centre_hz + rates.imag / (2 * np.pi)) / expected_hz))
    own = _peak_rate(z, step_s)
    model = np.column_stack([np.exp(rates[None, :] * (t - t[0])[:, None]), np.exp(own * (t - t[0]))])
    amplitudes, *_ = np.linalg.lstsq(model, z, rcond=s.ring_condition)
    ringing = model[:, :-1] @ amplitudes[:-1]
    share = float(np.sqrt(np.mean(np.abs(ringing) ** 2) / max(float(np.mean(np.abs(z - ringing) ** 2)), 1e-30)))
    same = bool(np.any(np.abs((rates - own).imag) / (2 * np.pi) < s.ring_apart_hz)) or bool(np.any(near_hz < 1.0))
    if same:
        return z, min(share, 1.0)
    return z - ringing, min(share, 1.0) * s.ring_remains


def _peak_rate(z: Complex, step_s: float) -> complex:
    """Complex rate (1/s) of the strongest tone of an envelope."""
    size = 8 * len(z)
    spectrum = np.abs(np.fft.fft(z * np.hanning(len(z) + 2)[1:-1], size))
    top = int(np.argmax(spectrum))
    frequency = np.fft.fftfreq(size, step_s)[top]
    half = len(z) // 2
    ratio = np.mean(np.abs(z[half:]) ** 2) / max(float(np.mean(np.abs(z[:half]) ** 2)), 1e-30)
    return complex(min(0.0, 0.5 * np.log(max(float(ratio), 1e-12)) / (half * step_s)), 2 * np.pi * frequency)


def _pencil(z: Complex, tones: int) -> Complex:
    """Poles exp(rate·step) of up to `tones` damped sinusoids, by the matrix pencil; empty when too short."""
    length = len(z) // 2
    if length < tones + 1:
        return np.empty(0, dtype=np.complex128)
    hankel = np.lib.stride_tricks.sliding_window_view(z, length + 1)
    _, _, vh = np.linalg.svd(hankel, full_matrices=False)
    basis = vh[:tones].conj().T
    poles = np.linalg.eigvals(np.linalg.pinv(basis[:-1]) @ basis[1:]).conj()
    return np.asarray(poles[np.abs(poles) < 1.05], dtype=np.complex128)


def _fit_phase(
    t: Vector, z: Complex, noise: float, band: Band, expected_hz: float, s: PitchSettings
) -> tuple[float, float, float, float] | None:
    """(frequency against the band's centre, its standard deviation, glide in Hz/s, centre of energy in s)."""
    own = _peak_rate(z, 1 / band.rate_hz)
    turned = z * np.exp(-1j * own.imag * (t - t[0]))
    phase = np.unwrap(np.angle(turned))
    weight = np.maximum(np.abs(z) ** 2 - noise, 0.0)
    if weight.sum() <= 0:
        return None
    centre_s = float(np.average(t, weights=weight))
    x = t - centre_s
    columns = 2 * np.pi * np.column_stack([np.ones_like(x), x, x**2 / 2])
    information = 2 * weight / noise * s.independent_share
    prior = np.diag([0.0, 0.0, 1 / (s.glide_cents_per_s * expected_hz / CENTS) ** 2])
    normal = (columns * information[:, None]).T @ columns + prior
    try:
        covariance = np.linalg.inv(normal)
    except np.linalg.LinAlgError:
        return None
    solution = covariance @ (columns * information[:, None]).T @ phase
    rest = phase - columns @ solution
    score = (columns @ covariance)[:, 1] * information * rest
    spread = _sandwich(score, max(2, round(len(t) * s.memory_share)))
    deviation_hz = float(np.sqrt(max(covariance[1, 1], spread)))
    moment_hz = _moment_hz(turned, t, noise)
    defined = abs(moment_hz - float(solution[1])) * s.definition_share
    return (
        float(solution[1]) + own.imag / (2 * np.pi),
        float(np.hypot(deviation_hz, max(0.0, defined - deviation_hz))),
        float(solution[2]),
        centre_s,
    )


def _sandwich(score: Vector, memory: int) -> float:
    """Variance of a sum of correlated terms (Newey & West, Econometrica 55 (1987) 703, Bartlett weights)."""
    total = float(score @ score)
    for lag in range(1, min(memory, len(score))):
        total += 2 * (1 - lag / memory) * float(score[lag:] @ score[:-lag])
    return max(total, 0.0)


def _moment_hz(z: Complex, t: Vector, noise: float) -> float:
    """The definition taken literally: instantaneous frequency weighted by energy."""
    turn = np.sum(z[1:] * np.conj(z[:-1]))
    return float(np.angle(turn) / (2 * np.pi * (t[1] - t[0])))


def _joined(
    partials: tuple[Partial, ...], seed_hz: float, stiffness: tuple[float, float] | None, s: PitchSettings
) -> Pitch:
    """First partial as measured and as the law of the others gives it, weighed by how sure each is."""
    first = partials[0] if partials[0].number == 1 else None
    usable = first is not None and first.deviation_cents < s.first_deviation_cents
    centre_s = partials[0].centre_s
    n = np.array([p.number for p in partials], dtype=float)
    glide = np.array([p.glide_cents_per_s * (centre_s - p.centre_s) for p in partials])
    y = np.array([CENTS * np.log(p.frequency_hz / (p.number * seed_hz)) for p in partials]) + glide
    own = np.array([p.deviation_cents for p in partials])
    high = n > 1
    law = _law(n[high], y[high], own[high], stiffness, s) if high.any() else None
    if law is None:
        cents, deviation = float(y[0]), float(own[0])
    elif not usable:
        cents, deviation = law.cents, float(np.hypot(law.deviation_cents, s.body_cents))
    else:
        pull = float(np.hypot(law.deviation_cents, s.body_scatters * law.scatter_cents))
        cents, deviation = _weighed((float(y[0]), float(own[0])), (law.cents, pull))
    pitch_hz = seed_hz * float(np.exp(cents / CENTS))
    defined = float(np.hypot(s.definition_cents, CENTS * s.definition_hz / pitch_hz))
    fitted = law is not None and high.sum() >= s.law_partials
    return Pitch(
        pitch_hz=pitch_hz,
        cents_u95=s.coverage * float(np.hypot(deviation, defined)),
        inferred=not usable,
        inharmonicity=law.stiffness if fitted and law else None,
        law_scatter_cents=law.scatter_cents if fitted and law else None,
        partials=partials,
    )


def _weighed(a: tuple[float, float], b: tuple[float, float]) -> tuple[float, float]:
    """Mean of two (value, standard deviation), less sure where they disagree (Birge, Phys. Rev. 40 (1932) 207)."""
    weight_a, weight_b = 1 / a[1] ** 2, 1 / b[1] ** 2
    mean = (a[0] * weight_a + b[0] * weight_b) / (weight_a + weight_b)
    disagreement = (a[0] - b[0]) ** 2 / (a[1] ** 2 + b[1] ** 2)
    return mean, float(np.sqrt(max(1.0, disagreement) / (weight_a + weight_b)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Law:
    cents: float
    """First partial against the seed."""
    deviation_cents: float
    stiffness: float
    scatter_cents: float


def _law(n: Vector, y: Vector, own: Vector, stiffness: tuple[float, float] | None, s: PitchSettings) -> _Law:
    """The stiff-string law through partials n >= 2: y = cents of f_n / n against the seed, `own` their deviations.

    In cents the law is 600·log2((1+B·n²)/(1+B)), all but linear in B: fitted with B's prior, iterated once or twice.
    The scatter of the partials about it is estimated by the method of moments and used in the weights.
    """
    guess, loose = stiffness if stiffness else (s.usual_stiffness, s.usual_loose)
    wide = guess * (np.exp(loose) - 1)
    scatter2 = 0.0 if len(n) >= s.law_partials else s.usual_scatter_cents**2
    bend = guess
    solution, covariance = np.array([float(y[0]), guess]), np.eye(2)
    for _ in range(s.law_rounds):
        shape = CENTS / 2 * np.log((1 + bend * n**2) / (1 + bend)) / bend
        plain = 1 / (own**2 + s.least_law_cents**2)
        weight = 1 / (1 / plain + scatter2)
        columns = np.column_stack([np.ones_like(n), shape])
        covariance = np.linalg.inv((columns * weight[:, None]).T @ columns + np.diag([1e-9, 1 / wide**2]))
        solution = covariance @ ((columns * weight[:, None]).T @ y + np.array([0.0, guess / wide**2]))
        rest = y - columns @ solution
        bend = float(np.clip(solution[1], 1e-9, s.most_stiffness))
        if len(n) >= s.law_partials:
            excess = float(np.sum(plain * rest**2)) - max(len(n) - 2, 1)
            of = float(np.sum(plain) - np.sum(plain**2) / np.sum(plain))
            scatter2 = max(0.0, excess / of)
    return _Law(
        cents=float(solution[0]),
        deviation_cents=float(np.sqrt(covariance[0, 0])),
        stiffness=bend,
        scatter_cents=float(np.sqrt(scatter2)),
    )
