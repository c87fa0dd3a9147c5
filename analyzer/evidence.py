"""How well each pitch explains a pluck: from the sound after an onset to a likelihood over pitch.

Task. Say, without knowing which string it is, which pitches may have been plucked and how likely each is, and how
likely it is that no string sounds here (a knock, a syllable). No single guess: `matching` weighs it with order,
layout and neighbours.

Conventions. A pitch is the frequency of the first partial in Hz; partials follow f_n = n·f_0·√(1+B·n²) with
f_1 = f_0·√(1+B) (Fletcher, JASA 36 (1964) 203). Log-likelihoods are natural and relative: only differences between
the candidates of one pluck mean anything.

Method. The spectrum of the sound after the onset is compared with its own local noise and with the spectrum just
before the onset (what still rings is no news). The peaks that remain, weighted by how far they stand out, are explained
by each candidate: a peak divided by 1 … n, and the distances between strong peaks, so that a fundamental that a phone
removed can still be named. A candidate earns what share of the peaks it explains, and loses for partials that should
be there and are not: an octave too low explains everything but half of its partials are missing; an octave too high
misses none but explains half of the peaks. The best are refined by least squares in (f_0², f_0²·B).

Known limits. Two strings plucked at once give the pitch of one of them. Wire partials beyond the 24th are not used.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analyzer.plucks import Pluck, Sound
from analyzer.settings import EvidenceSettings

Vector = NDArray[np.float64]
Grid = NDArray[np.float64]


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
    tones_db: tuple[float, ...]
    """Level of the peaks that each candidate explains, dB below full scale."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Peaks:
    hz: Vector
    weight: Vector
    level_db: Vector


def weigh(sound: Sound, rate_hz: int, pluck: Pluck, settings: EvidenceSettings) -> Evidence:
    """The evidence for one event."""
    span_s = min(settings.span_s, max(settings.least_span_s, pluck.end_s - pluck.onset_s - settings.skip_s))
    size = round(span_s * rate_hz)
    start = round((pluck.onset_s + settings.skip_s) * rate_hz)
    after = _spectrum(sound.read(start, start + size), rate_hz)
    gap = round((pluck.onset_s - settings.before_gap_s) * rate_hz)
    before = _spectrum(sound.read(gap - size, gap), rate_hz)
    peaks = _peaks(after, before, span_s, rate_hz, settings)
    if len(peaks.hz) == 0:
        return Evidence(
            pitches_hz=(),
            log_likelihoods=(),
            spread_cents=(),
            string_log_odds=settings.no_tone_log_odds,
            tones_db=(),
        )
    candidates = _candidates(peaks, settings)
    score, stiffness = _score(candidates, peaks, span_s, settings)
    best = np.argsort(-score)[: settings.keep]
    refined = [_refine(float(candidates[i]), float(stiffness[i]), peaks, span_s, settings) for i in best]
    drift = _drift(sound, rate_hz, start, size, peaks, settings)
    return Evidence(
        pitches_hz=tuple(f1 for f1, _ in refined),
        log_likelihoods=tuple(float(v) for v in settings.score_to_log * (score[best] - score[best[0]])),
        spread_cents=tuple(spread for _, spread in refined),
        string_log_odds=_string_log_odds(pluck, float(score[best[0]]), drift, settings),
        tones_db=tuple(_tone_db(float(candidates[i]), float(stiffness[i]), peaks, span_s, settings) for i in best),
    )


def _spectrum(block: NDArray[np.float32], rate_hz: int) -> Vector:
    """Amplitude spectrum (Hann), zero-padded to a power of two at least twice as long."""
    import scipy.fft

    window = np.hanning(len(block) + 2)[1:-1].astype(np.float32)
    length = 2 << int(np.ceil(np.log2(max(len(block), 2))))
    amplitude: Vector = np.abs(scipy.fft.rfft(block * window, length)).astype(np.float64) * (2 / float(window.sum()))
    return amplitude


def _peaks(after: Vector, before: Vector, span_s: float, rate_hz: int, s: EvidenceSettings) -> _Peaks:
    """Peaks that stand out of the local noise and of what sounded before, the strongest `s.peaks` of them."""
    hz_per_bin = rate_hz / 2 / (len(after) - 1)
    lobe = max(1, round(1 / span_s / hz_per_bin))
    width = max(2, round(max(s.floor_width_hz, 12 / span_s) / hz_per_bin))
    whole = len(after) // width * width
    medians = np.median(after[:whole].reshape(-1, width), axis=1)
    floor = np.interp(np.arange(len(after)), (np.arange(len(medians)) + 0.5) * width, medians)
    ringing = np.lib.stride_tricks.sliding_window_view(np.pad(before, lobe, mode="edge"), 2 * lobe + 1).max(axis=1)
    level_db = 20 * np.log10(after + 1e-12)
    above_db = level_db - 20 * np.log10(np.maximum(floor, s.ringing_share * ringing) + 1e-12)
    inner = slice(1, -1)
    at = np.flatnonzero((level_db[inner] > level_db[:-2]) & (level_db[inner] >= level_db[2:])) + 1
    hz = at * hz_per_bin
    at = at[(hz > s.lowest_hz) & (hz < s.highest_hz) & (above_db[at] > s.least_above_db)]
    if len(at):
        at = at[level_db[at] > level_db[at].max() - s.below_strongest_db]
        at = at[np.argsort(-level_db[at])[: s.peaks]]
        at.sort()
    left, mid, right = level_db[at - 1], level_db[at], level_db[at + 1]
    offset = 0.5 * (left - right) / np.minimum(left - 2 * mid + right, -1e-9)
    prominence = np.minimum(above_db[at], s.most_above_db)
    loudness = s.below_strongest_db + mid - (mid.max() if len(mid) else 0.0)
    return _Peaks(hz=(at + offset) * hz_per_bin, weight=np.minimum(prominence, loudness) + 1e-9, level_db=mid)


def _candidates(peaks: _Peaks, s: EvidenceSettings) -> Vector:
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


def _assign(f0_hz: Vector, stiffness: float, peaks: _Peaks, span_s: float, s: EvidenceSettings) -> tuple[Grid, Grid]:
    """Nearest partial number of each peak for each candidate, and how well it fits (0 to 1): both (C, J)."""
    ratio = peaks.hz[None, :] / f0_hz[:, None]
    number = np.rint(ratio / np.sqrt(1 + stiffness * np.minimum(ratio, s.partials) ** 2))
    number = np.clip(number, 1, s.partials)
    expected = f0_hz[:, None] * number * np.sqrt(1 + stiffness * number**2)
    tolerance = np.minimum(np.maximum(s.tolerance_bins / span_s, s.tolerance_share * expected), 0.25 * f0_hz[:, None])
    fit = np.exp(-(((peaks.hz[None, :] - expected) / tolerance) ** 2))
    return number, fit


def _score(candidates: Vector, peaks: _Peaks, span_s: float, s: EvidenceSettings) -> tuple[Vector, Vector]:
    """Share explained plus weighted share of present partials, and the stiffness B that served best: both (C,)."""
    top = float(peaks.hz.max()) * 1.02
    scores = []
    for stiffness in s.stiffnesses:
        number, fit = _assign(candidates, stiffness, peaks, span_s, s)
        gain = fit * peaks.weight[None, :]
        explained = gain.sum(axis=1) / peaks.weight.sum()
        present = np.zeros(len(candidates))
        of = np.full(len(candidates), 1e-9)
        for n in range(1, s.expected_partials + 1):
            best = np.max(np.where(number == n, gain, 0.0), axis=1)
            hz = candidates * n
            worth = np.where(hz < top, 1 / np.sqrt(n), 0.0) * np.where(hz < s.weak_below_hz, s.weak_worth, 1.0)
            present += worth * np.minimum(best / s.present_db, 1.0)
            of += worth
        scores.append(explained + s.present_worth * present / of)
    table = np.array(scores)
    which = table.argmax(axis=0)
    return table.max(axis=0), np.array(s.stiffnesses)[which]


def _refine(f0_hz: float, stiffness: float, peaks: _Peaks, span_s: float, s: EvidenceSettings) -> tuple[float, float]:
    """First partial in Hz and its standard deviation in cents, by weighted least squares over the partials it fits."""
    number, fit = _assign(np.array([f0_hz]), stiffness, peaks, span_s, s)
    n, weight = number[0], fit[0] * peaks.weight * (fit[0] > s.refine_fit)
    weight = weight / (1 + (n / s.refine_partials) ** 2)
    if weight.sum() <= 0:
        return f0_hz, s.unrefined_cents
    square = (peaks.hz / n) ** 2
    mean_n2 = float(np.average(n**2, weights=weight))
    mean_square = float(np.average(square, weights=weight))
    spread = float(np.average((n**2 - mean_n2) ** 2, weights=weight))
    slope = float(np.average((n**2 - mean_n2) * (square - mean_square), weights=weight)) / spread if spread > 0 else 0.0
    slope = float(np.clip(slope, 0.0, s.stiffnesses[-1] * mean_square))
    f1_hz = float(np.sqrt(mean_square + slope * (1 - mean_n2)))
    off = 1200 * np.log2(peaks.hz / (n * np.sqrt(mean_square + slope * (n**2 - mean_n2))))
    scatter = float(np.sqrt(np.average(off**2, weights=weight)))
    resolution = 1731 * s.resolution_bins / span_s / f1_hz / float(np.sqrt(np.average(n**2, weights=weight)))
    return f1_hz, float(np.hypot(scatter / 2, resolution)) + s.least_spread_cents


def _tone_db(f0_hz: float, stiffness: float, peaks: _Peaks, span_s: float, s: EvidenceSettings) -> float:
    fit = _assign(np.array([f0_hz]), stiffness, peaks, span_s, s)[1][0]
    return float(10 * np.log10(np.sum(fit * 10 ** (peaks.level_db / 10)) + 1e-12))


def _drift(sound: Sound, rate_hz: int, start: int, size: int, peaks: _Peaks, s: EvidenceSettings) -> float:
    """Median move of the loudest peaks between the halves of the span, against what a steady tone may move."""
    half = size // 2
    halves = [_spectrum(sound.read(a, a + half), rate_hz) for a in (start, start + half)]
    hz_per_bin = rate_hz / 2 / (len(halves[0]) - 1)
    reach = max(1, round(s.drift_reach_bins * rate_hz / half / hz_per_bin))
    moves = []
    for k in np.argsort(-peaks.level_db)[: s.drift_peaks]:
        hz = float(peaks.hz[k])
        low = max(1, round(hz / hz_per_bin) - reach)
        first, second = (_top(x, low, low + 2 * reach + 1) * hz_per_bin for x in halves)
        allowed = np.hypot(s.drift_bins * rate_hz / half, hz * s.drift_cents / 1731)
        moves.append(abs(second - first) / allowed)
    return float(np.median(moves))


def _top(spectrum: Vector, low: int, high: int) -> float:
    """Place of the highest value from `low` to `high`, between bins, by a parabola through its logarithm."""
    at = min(max(low + int(spectrum[low:high].argmax()), 1), len(spectrum) - 2)
    left, mid, right = np.log(spectrum[at - 1 : at + 2] + 1e-12)
    return at + 0.5 * float(left - right) / min(float(left - 2 * mid + right), -1e-9)


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


def _string_log_odds(pluck: Pluck, score: float, drift: float, s: EvidenceSettings) -> float:
    """Three hints, each bounded on either side: a voice is harmonic too, a knock sudden, an old ring steady."""
    sudden = (pluck.rise_db - s.sudden_db) / s.sudden_scale_db
    harmonic = (score - s.harmonic_score) / s.harmonic_scale
    steady = (s.steady_drift - drift) / s.steady_scale
    hints = ((sudden, s.sudden_limits), (harmonic, s.harmonic_limits), (steady, s.steady_limits))
    return sum(float(np.clip(hint, *limits)) for hint, limits in hints)
