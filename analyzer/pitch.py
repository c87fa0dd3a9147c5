"""The pitch of a matched pluck, with its interval.

Task. Given which string it is, hence about where its partials lie, measure the frequency of its first partial: the
mean instantaneous frequency, weighted by energy, over 0.15 to 1.35 s after the onset (from 0.05 s above 1.5 kHz, and
only while it stands clear of the noise).

Method. Each partial is brought to a complex envelope in a narrow band (`bands`); what still rings from earlier strings
is taken out (`ringing`), and its mean frequency fitted with an uncertainty that noise, a room and other tones in the
band give it (`tone_fit`). The partials share one glide, by which their frequencies are moved to the first partial's
centre of energy. Those from the second on say by the stiff-string law (`stiff_law`) where the first should be; the
soundboard pulls the first by some cents more than the others' scatter shows, so that the law helps where the first is
unsure and gives way where it is sharp. Where it is not to be measured it is inferred from the others, and the interval
widens.

Conventions. Frequencies in Hz, deviations and standard deviations in cents (1/1200 octave). `u95` is the half-width of
the 95 % interval; parts common to the whole recording (the recorder's clock) are added by `survey`.

Known limits. Two neighbouring strings ringing within about a hertz of the partial cannot be told from it; the interval
then says so. Frequencies are at the time where the first partial's energy has its centre.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.bands import PluckBands
from analyzer.ringing import without_ring
from analyzer.settings import PitchSettings
from analyzer.stiff_law import CENTS, fit_law, weighed
from analyzer.tone_fit import Complex, Tone, fit_tones, peak_hz

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Partial:
    """One partial as measured."""

    number: int
    frequency_hz: float
    """At the centre of its energy within the window."""
    deviation_cents: float
    """Standard deviation of the frequency, from noise and from what the fit leaves over."""
    glide_cents_per_s: float
    glide_deviation_cents_per_s: float
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
    automatic_gain: bool = False,
) -> Pitch | None:
    """Measure one pluck; None where no partial stands clear of the noise.

    `seed_hz` is the first partial to within some 40 cents; `end_s` where the sound stops being usable and `ring_from_s`
    (negative) where the stretch before the onset that shows what still rings begins, both from the onset; `stiffness`
    is what the layout leads one to expect of B, with the natural log of the factor by which it may be off;
    `automatic_gain` says that the recorder changed its gain while strings died away, and so moved their energy in time.
    """
    s = settings
    span = _window(seed_hz, end_s, s)
    if span is None:
        return None
    width_hz = float(np.clip(s.band_share * seed_hz, s.band_least_hz, s.band_most_hz))
    before = (max(ring_from_s, -s.ring_s), -s.guard_s)
    first_hz = _sought(bands, seed_hz, width_hz, span, s)
    found = _partials(bands, (1,), np.array([first_hz]), seed_hz, width_hz, span, before, s)
    firm = found and found[0].ring_db < s.tuned_ring_db
    tuned_hz = found[0].frequency_hz if firm else seed_hz
    n = np.arange(2, s.partials + 1)
    hz = tuned_hz * n * np.sqrt(1 + (stiffness[0] if stiffness else 0.0) * (n**2 - 1))
    heard = hz < min(s.highest_hz, bands.highest_hz)
    found += _partials(bands, tuple(n[heard]), hz[heard], seed_hz, width_hz, span, before, s)
    doubt_s = s.gain_centre_doubt_s if automatic_gain else s.centre_doubt_s
    return _joined(found, seed_hz, stiffness, doubt_s, s) if found else None


def _window(seed_hz: float, end_s: float, s: PitchSettings) -> tuple[float, float] | None:
    start_s = s.start_s if seed_hz < s.high_above_hz else s.high_start_s
    stop_s = min(s.stop_s, end_s - s.guard_s)
    if stop_s - start_s < s.least_s:
        start_s = max(s.earliest_s, stop_s - s.least_s)
    return (start_s, stop_s) if stop_s - start_s >= s.least_s / 2 else None


def _sought(bands: PluckBands, seed_hz: float, width_hz: float, span: tuple[float, float], s: PitchSettings) -> float:
    """Where the first partial is, when its band is narrower than the seed is unsure: the strongest tone near it."""
    reach_hz = s.seek_cents / CENTS * seed_hz
    if reach_hz < s.seek_widths * width_hz:
        return seed_hz
    wide = bands.band(seed_hz, 2 * reach_hz)
    z = wide.envelope[wide.within(*span)]
    offset_hz = peak_hz(z, 1 / wide.rate_hz) if len(z) >= s.least_values else 0.0
    return wide.centre_hz + offset_hz if abs(offset_hz) < reach_hz else seed_hz


def _partials(
    bands: PluckBands,
    numbers: tuple[int, ...],
    expected_hz: Vector,
    seed_hz: float,
    width_hz: float,
    span: tuple[float, float],
    before: tuple[float, float],
    s: PitchSettings,
) -> tuple[Partial, ...]:
    """Those of the partials `numbers` that stand out, each near its `expected_hz`."""
    if len(numbers) == 0:
        return ()
    noise = _noises(bands, expected_hz, seed_hz, width_hz, span, s)
    around = bands.bands(expected_hz, width_hz)
    envelope = np.stack([band.envelope for band in around])
    inside = around[0].within(*span)
    t, z = around[0].times_s[inside], envelope[:, inside]
    if len(t) < s.least_values:
        return ()
    earlier = envelope[:, around[0].within(*before)]
    ring = _mean_power(earlier) if earlier.shape[1] else np.zeros(len(z))
    power = _mean_power(z)
    ring_db = 10 * np.log10((ring + noise * 1e-3) / (power + 1e-30) + 1e-12)
    left_over = np.zeros(len(z))
    for k in np.flatnonzero((ring_db > s.ring_matters_db) & (ring > s.ring_clear * noise)):
        z[k], left_over[k] = without_ring(around[k], earlier[k], t, z[k], s)
    clear = z.real**2 + z.imag**2 > s.clear_power * noise[:, None]
    rows = np.flatnonzero(clear.sum(axis=1) >= s.least_values)
    count = len(t) - clear[rows, ::-1].argmax(axis=1)
    tones = fit_tones(t, z[rows], count, noise[rows], s.glide_cents_per_s * expected_hz[rows] / CENTS, s)
    return tuple(
        _partial(
            numbers[k], around[k].centre_hz + tone.offset_hz, tone, power[k], noise[k], ring_db[k], left_over[k], s
        )
        for k, tone in zip(rows, tones, strict=True)
        if tone is not None
        and abs(CENTS * np.log((around[k].centre_hz + tone.offset_hz) / expected_hz[k])) <= s.seek_cents
    )


def _mean_power(z: Complex) -> Vector:
    return np.asarray(np.mean(z.real**2 + z.imag**2, axis=1))


def _noises(
    bands: PluckBands, hz: Vector, seed_hz: float, width_hz: float, span: tuple[float, float], s: PitchSettings
) -> Vector:
    """Mean |z|² that noise alone gives in each band: the quieter of the two gaps beside it, median over time."""
    gaps_hz = np.concatenate([[hz[0] - seed_hz / 2], (hz[1:] + hz[:-1]) / 2, [hz[-1] + seed_hz / 2]])
    aside_hz = min(width_hz, s.gap_share * seed_hz)
    times_s, powers = bands.powers(gaps_hz, aside_hz)
    lo, hi = np.searchsorted(times_s, span)
    power = np.median(powers[:, lo:hi], axis=1) / np.log(2) * width_hz / aside_hz if hi > lo else np.zeros(len(gaps_hz))
    power[(gaps_hz < aside_hz) | (gaps_hz > bands.highest_hz - aside_hz)] = np.inf
    quieter = np.minimum(power[1:], power[:-1])
    return np.maximum(np.where(np.isfinite(quieter), quieter, 0.0), s.least_noise)


def _partial(
    number: int,
    frequency_hz: float,
    tone: Tone,
    power: float,
    noise: float,
    ring_db: float,
    left_over: float,
    s: PitchSettings,
) -> Partial:
    cents_per_hz = CENTS / frequency_hz
    return Partial(
        number=int(number),
        frequency_hz=float(frequency_hz),
        deviation_cents=float(cents_per_hz * np.hypot(tone.deviation_hz, left_over * s.ring_pull_hz)),
        glide_cents_per_s=float(cents_per_hz * tone.glide_hz_per_s),
        glide_deviation_cents_per_s=float(cents_per_hz * tone.glide_deviation_hz_per_s),
        level_db=float(10 * np.log10(power / 2 + 1e-12)),
        clear_db=float(10 * np.log10(power / noise)),
        ring_db=float(ring_db),
        centre_s=tone.centre_s,
    )


def _common_glide(partials: tuple[Partial, ...], s: PitchSettings) -> tuple[float, float]:
    """(glide in cents/s, standard deviation): all partials follow the string's tension together."""
    prior = 1 / s.glide_cents_per_s**2
    deviation = np.hypot([p.glide_deviation_cents_per_s for p in partials], s.glide_scatter_cents_per_s)
    own = np.maximum(1 / deviation**2 - prior, 0.0)  # each was held near zero already
    value = np.array([p.glide_cents_per_s for p in partials])
    total = float(own.sum()) + prior
    return float(np.sum((own + prior) * value * (own > 0)) / total), float(1 / np.sqrt(total))


def _joined(
    partials: tuple[Partial, ...],
    seed_hz: float,
    stiffness: tuple[float, float] | None,
    centre_doubt_s: float,
    s: PitchSettings,
) -> Pitch:
    """First partial as measured and as the law of the others gives it, weighed by how sure each is."""
    first = partials[0] if partials[0].number == 1 else None
    usable = first is not None and first.deviation_cents < s.first_deviation_cents
    glide, glide_deviation = _common_glide(partials, s)
    later_s = np.array([partials[0].centre_s - p.centre_s for p in partials])
    n = np.array([p.number for p in partials], dtype=float)
    y = np.array([CENTS * np.log(p.frequency_hz / (p.number * seed_hz)) for p in partials]) + glide * later_s
    moved = np.abs(later_s) * np.hypot(glide_deviation, s.bent_share * glide)
    own = np.hypot([p.deviation_cents for p in partials], moved)
    high = n > 1
    law = fit_law(n[high], y[high], own[high], stiffness, s) if high.any() else None
    if law is None:
        cents, deviation = float(y[0]), float(own[0])
    elif not usable:
        cents, deviation = law.cents, float(np.hypot(law.deviation_cents, s.body_cents))
    else:
        apart2 = max(s.body_cents**2, (law.cents - y[0]) ** 2 - own[0] ** 2, (s.body_scatters * law.scatter_cents) ** 2)
        pull = float(np.hypot(law.deviation_cents, np.sqrt(apart2)))
        cents, deviation = weighed((float(y[0]), float(own[0])), (law.cents, pull))
    pitch_hz = seed_hz * float(np.exp(cents / CENTS))
    defined = float(np.hypot(s.definition_cents, CENTS * s.definition_hz / pitch_hz))
    defined = float(np.hypot(defined, centre_doubt_s * np.hypot(glide, glide_deviation)))
    fitted = law is not None and high.sum() >= s.law_partials
    return Pitch(
        pitch_hz=pitch_hz,
        cents_u95=s.coverage * float(np.hypot(deviation, defined)),
        inferred=not usable,
        inharmonicity=law.stiffness if fitted and law else None,
        law_scatter_cents=law.scatter_cents if fitted and law else None,
        partials=partials,
    )
