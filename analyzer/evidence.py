"""How well each pitch explains a pluck: from the sound after an onset to a likelihood over pitch.

Task. Say, without knowing which string it is, which pitches may have been plucked and how likely each is, and how
likely it is that no string sounds here (a knock, a syllable). No single guess: `matching` weighs it with order,
layout and neighbours.

Conventions. A pitch is the frequency of the first partial in Hz; partials follow f_n = n·f_0·√(1+B·n²) with
f_1 = f_0·√(1+B) (Fletcher, JASA 36 (1964) 203). Log-likelihoods are natural and relative: only differences between
the candidates of one pluck mean anything.

Method. The spectrum of the sound after the onset is compared with its own local noise and with the spectrum just before
the onset (what still rings is no news, unless it has grown: the same string again). The peaks that remain, weighted by
how far they stand out, are explained by each candidate: a peak divided by 1 … n, and the distances between strong
peaks, so that a fundamental that a phone removed can still be named. A candidate earns what share of the peaks it
explains, and loses for partials that should be there and are not: an octave too low explains everything but half of its
partials are missing; an octave too high misses none but explains half of the peaks. The best are refined by least
squares in (f_0², f_0²·B).

Known limits. Two strings plucked at once give the pitch of one of them. Wire partials beyond the 24th are not used.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analyzer.peaks import Grid, Peaks, Vector, drift, find_peaks, spectra
from analyzer.plucks import Pluck, Sound
from analyzer.settings import EvidenceSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What one event sounds like."""

    pitches_hz: tuple[float, ...]
    """Candidates for the first partial, best first; empty where no tone was found."""
    log_likelihoods: tuple[float, ...]
    """Of each candidate, natural, relative to each other."""
    spread_cents: tuple[float, ...]
    """How far each candidate's figure may be off, one standard deviation."""
    string_log_odds: float
    """Natural log of how much likelier this sound is from a string than from a knock or a voice."""
    tap_log_odds: float
    """Natural log of how much likelier it is a tap in the row of the plucks than a string: both begin suddenly."""
    tones_db: tuple[float, ...]
    """Level of all that each candidate explains, dB below full scale: what rang before counts here."""


def weigh(sound: Sound, rate_hz: int, pluck: Pluck, settings: EvidenceSettings) -> Evidence:
    """The evidence for one event."""
    span_s = min(settings.span_s, max(settings.least_span_s, pluck.end_s - pluck.onset_s - settings.skip_s))
    size = round(span_s * rate_hz)
    start = round((pluck.onset_s + settings.skip_s) * rate_hz)
    gap = round((pluck.onset_s - settings.before_gap_s) * rate_hz)
    sounding = sound.read(start, start + size)
    after, before = spectra(np.stack([sounding, sound.read(gap - size, gap)]))
    reading = _read(after, before, settings.ringing_share, span_s, rate_hz, settings)
    unclear = reading is None or reading.score.max() < settings.unclear_score
    if unclear and span_s >= settings.grown_span_s:
        reading = _with_what_grew(reading, _read(after, before, 0.0, span_s, rate_hz, settings), span_s, settings)
    if reading is None:
        return Evidence(
            pitches_hz=(),
            log_likelihoods=(),
            spread_cents=(),
            string_log_odds=settings.no_tone_log_odds,
            tap_log_odds=-settings.harmonic_limits[0],
            tones_db=(),
        )
    peaks, score = reading.peaks, reading.score
    best = _kept(reading.candidates, score, peaks, settings)
    candidates, stiffness = reading.candidates[best], reading.stiffness[best]
    number, fit = _assign(candidates, stiffness, peaks.hz, span_s, settings)
    pitches_hz, spread_cents = _refined(candidates, number, fit, peaks, span_s, settings)
    log = _octaves_told_apart(pitches_hz, score[best], _odd_db(number, fit, peaks, settings), settings)
    order = np.argsort(-log, kind="stable")
    log, pitches_hz, spread_cents = (values[order] for values in (log - log.max(), pitches_hz, spread_cents))
    _, whole = _assign(pitches_hz, stiffness[order], peaks.sounding_hz, span_s, settings)
    sudden, harmonic, steady = _hints(pluck, float(score[best[0]]), drift(sounding, rate_hz, peaks, settings), settings)
    return Evidence(
        pitches_hz=tuple(pitches_hz.tolist()),
        log_likelihoods=tuple(log.tolist()),
        spread_cents=tuple(spread_cents.tolist()),
        string_log_odds=sudden + harmonic + steady,
        tap_log_odds=-harmonic - steady,
        tones_db=tuple((10 * np.log10(whole @ 10 ** (peaks.sounding_db / 10) + 1e-12)).tolist()),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reading:
    """Peaks, the pitches worth testing on them, and for each its score and the stiffness B that served it best."""

    peaks: Peaks
    candidates: Vector
    score: Vector
    stiffness: Vector


def _read(
    after: Vector, before: Vector, ringing_share: float, span_s: float, rate_hz: int, s: EvidenceSettings
) -> _Reading | None:
    """Of what stands out; None where nothing does."""
    peaks = find_peaks(after, before, ringing_share, span_s, rate_hz, s)
    if len(peaks.hz) == 0:
        return None
    candidates = _candidates(peaks, s)
    score, stiffness = _score(candidates, peaks, span_s, s)
    return _Reading(peaks=peaks, candidates=candidates, score=score, stiffness=stiffness)


def _with_what_grew(
    new: _Reading | None, whole: _Reading | None, span_s: float, s: EvidenceSettings
) -> _Reading | None:
    """The reading of the whole sound, where that explains it better than what is new and has not merely rung on.

    A string that is plucked again while it rings shows little that is new, but its partials have grown, some of them
    much; what rings on falls, under a knock as well.
    """
    if whole is None:
        return new
    best = int(whole.score.argmax())
    _, fit = _assign(whole.candidates[best : best + 1], whole.stiffness[best : best + 1], whole.peaks.hz, span_s, s)
    weight = fit[0] * whole.peaks.weight
    grown_db = float(weight @ np.clip(whole.peaks.grown_db, *s.grown_limits_db)) / float(weight.sum() + 1e-9)
    score = whole.score + s.fallen_worth * min(grown_db, 0.0)
    if score.max() <= (0.0 if new is None else new.score.max()):
        return new
    return replace(whole, score=score)


def _kept(candidates: Vector, score: Vector, peaks: Peaks, s: EvidenceSettings) -> NDArray[np.int64]:
    """Places of the best candidates, best first, and of the loudest peak as a first partial: all that many a short
    high string shows, where so many peaks of the noise stay unexplained that it scores low."""
    ranked = np.argsort(-score)
    loudest = int(np.abs(candidates - peaks.hz[peaks.level_db.argmax()]).argmin())
    if loudest in ranked[: s.keep]:
        return ranked[: s.keep]
    return np.append(ranked[: s.keep - 1], loudest)


def _candidates(peaks: Peaks, s: EvidenceSettings) -> Vector:
    """Pitches worth testing, Hz, ascending."""
    strong = np.argsort(-peaks.weight)[: s.roots]
    loud = np.argsort(-peaks.level_db)[: s.roots]
    roots = peaks.hz[np.union1d(strong, loud)]
    whole = (roots[:, None] / np.arange(1, s.root_divisors + 1)[None, :]).ravel()
    spacing = np.diff(peaks.hz)
    found = np.concatenate([whole, spacing, spacing / 2])
    found = np.sort(found[(found > s.lowest_hz) & (found < s.highest_pitch_hz)])
    if len(found) == 0:
        return peaks.hz[:1]
    apart = np.diff(np.log2(found), prepend=-np.inf) * 1200 > s.candidate_apart_cents
    return np.asarray(found[apart], dtype=np.float64)


def _assign(f0_hz: Vector, stiffness: Vector, hz: Vector, span_s: float, s: EvidenceSettings) -> tuple[Grid, Grid]:
    """Nearest partial number of the peaks at `hz` for each candidate with its stiffness, and how well each fits."""
    f0_hz, stiffness = f0_hz[:, None], stiffness[:, None]
    ratio = hz / f0_hz
    number = np.rint(ratio / np.sqrt(1 + stiffness * np.minimum(ratio, s.partials) ** 2))
    number = np.clip(number, 1, s.partials)
    expected = f0_hz * number * np.sqrt(1 + stiffness * number**2)
    tolerance = np.minimum(np.maximum(s.tolerance_bins / span_s, s.tolerance_share * expected), 0.25 * f0_hz)
    fit = np.exp(-(((hz - expected) / tolerance) ** 2))
    return number, fit


def _score(candidates: Vector, peaks: Peaks, span_s: float, s: EvidenceSettings) -> tuple[Vector, Vector]:
    """Share explained plus weighted share of present partials, and the stiffness B that served best: both (C,)."""
    tried = len(candidates), len(s.stiffnesses)
    f0_hz, stiffness = np.repeat(candidates, tried[1]), np.tile(s.stiffnesses, tried[0])
    number, fit = _assign(f0_hz, stiffness, peaks.hz, span_s, s)
    gain = fit * peaks.weight
    explained = gain.sum(axis=1) / peaks.weight.sum()
    n = np.arange(1, s.expected_partials + 1)
    best = np.zeros((len(f0_hz), s.partials + 1))
    np.maximum.at(best, (np.arange(len(f0_hz))[:, None], number.astype(int)), gain)
    hz = f0_hz[:, None] * n
    worth = np.where(hz < float(peaks.hz.max()) * 1.02, 1 / np.sqrt(n), 0.0)
    worth *= np.where(hz < s.weak_below_hz, s.weak_worth, 1.0)
    present = np.sum(worth * np.minimum(best[:, n] / s.present_db, 1.0), axis=1) / (worth.sum(axis=1) + 1e-9)
    table = (explained + s.present_worth * present).reshape(tried)
    return table.max(axis=1), np.array(s.stiffnesses)[table.argmax(axis=1)]


def _refined(
    f0_hz: Vector, number: Grid, fit: Grid, peaks: Peaks, span_s: float, s: EvidenceSettings
) -> tuple[Vector, Vector]:
    """First partial in Hz and its standard deviation in cents, by weighted least squares over the partials it fits."""
    weight = fit * peaks.weight * (fit > s.refine_fit) / (1 + (number / s.refine_partials) ** 2)
    fits = weight.sum(axis=1) > 0
    weight = np.where(fits[:, None], weight, 1.0)
    weight /= weight.sum(axis=1, keepdims=True)

    def mean(values: Grid) -> Grid:
        return np.asarray(np.sum(weight * values, axis=1, keepdims=True))

    square, n2 = (peaks.hz / number) ** 2, number**2
    mean_n2, mean_square = mean(n2), mean(square)
    spread = mean((n2 - mean_n2) ** 2)
    slope = mean((n2 - mean_n2) * (square - mean_square)) / np.where(spread > 0, spread, np.inf)
    slope = np.clip(slope, 0.0, s.stiffnesses[-1] * mean_square)
    f1_hz = np.sqrt(mean_square + slope * (1 - mean_n2))
    off = 1200 * np.log2(peaks.hz / (number * np.sqrt(mean_square + slope * (n2 - mean_n2))))
    resolution = 1731 * s.resolution_bins / span_s / f1_hz / np.sqrt(mean_n2)
    spread_cents = np.hypot(np.sqrt(mean(off**2)) / 2, resolution) + s.least_spread_cents
    return np.where(fits, f1_hz[:, 0], f0_hz), np.where(fits, spread_cents[:, 0], s.unrefined_cents)


def _octaves_told_apart(pitches_hz: Vector, score: Vector, odd_db: Vector, s: EvidenceSettings) -> Vector:
    """Log-likelihoods of the candidates, best first. What a string an octave higher leaves unexplained are tones half
    way between its partials; none of its own ever sounds there, so that they speak against it more than their share,
    if they are as loud as partials are. Where a candidate's odd partials are all far below its even ones (`odd_db`), it
    is the string an octave higher that sounds, and something else besides."""
    log = s.score_to_log * (score - score[0])
    apart_cents = 1200 * np.log2(pitches_hz[:, None] / pitches_hz[None, :])
    above = (np.abs(apart_cents - 1200) < s.octave_within_cents) & (odd_db > -s.octave_odd_db)
    beyond = np.maximum(np.where(above, log[None, :] - log[:, None], 0.0).max(axis=1) - s.octave_lead, 0.0)
    faint = np.clip(-s.octave_odd_db - odd_db, 0.0, s.octave_faint_db)
    return np.asarray(log - np.minimum(s.octave_worth * beyond, s.octave_most) - s.octave_faint_worth * faint)


def _odd_db(number: Grid, fit: Grid, peaks: Peaks, s: EvidenceSettings) -> Vector:
    """(C,) the loudest odd partial of each candidate over its loudest even one."""
    found = np.where(fit > s.refine_fit, peaks.level_db, -np.inf)
    floor_db = float(peaks.level_db.min())
    odd, even = (np.where(number % 2 == k, found, floor_db).max(axis=1) for k in (1, 0))
    return np.asarray(np.maximum(odd, floor_db) - np.maximum(even, floor_db))


def in_company(plucks: tuple[Pluck, ...], evidence: tuple[Evidence, ...], s: EvidenceSettings) -> tuple[Evidence, ...]:
    """The same evidence, with less trust in events that are unlike the recording's clearest plucks.

    Syllables crowd where plucks keep a pace, and raise few bands where the attack of a pluck raises many.
    """
    onsets = np.array([p.onset_s for p in plucks])
    strength = np.array([p.strength_db for p in plucks])
    clear = np.array([e.string_log_odds > s.clear_log_odds for e in evidence], dtype=bool)
    if clear.sum() < s.clear_events:
        return evidence
    pace_s, usual_db = float(np.median(np.diff(onsets[clear]))), float(np.median(strength[clear]))
    gaps = np.diff(onsets, prepend=-np.inf, append=np.inf)
    nearest = np.minimum(gaps[:-1], gaps[1:])
    crowded = np.log(nearest / (s.crowd_share * pace_s)) / s.crowd_scale
    weak = np.log(strength / (s.weak_share * usual_db)) / s.weak_scale
    unlike = np.clip(crowded, -s.crowd_limit, 0.0) + np.clip(weak, -s.weak_limit, 0.0)
    return tuple(
        replace(e, string_log_odds=e.string_log_odds + float(c)) for e, c in zip(evidence, unlike, strict=True)
    )


def _hints(pluck: Pluck, score: float, drift: float, s: EvidenceSettings) -> tuple[float, float, float]:
    """Log-odds of a string, each bounded either way: a voice is harmonic too, a knock sudden, an old ring steady."""
    sudden = (pluck.rise_db - s.sudden_db) / s.sudden_scale_db
    harmonic = (score - s.harmonic_score) / s.harmonic_scale
    steady = (s.steady_drift - drift) / s.steady_scale
    return (
        float(np.clip(sudden, *s.sudden_limits)),
        float(np.clip(harmonic, *s.harmonic_limits)),
        float(np.clip(steady, *s.steady_limits)),
    )
