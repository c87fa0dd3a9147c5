"""Dull strings: each string's damping against this harp's own surface.

Task. From every counted pluck's partials to the probability that a string is dull (damped more than its place on this
harp explains), with the figures behind it.

Method. No published threshold for a "dead" harp string exists, so the judgement is comparative. Loudness and the
plucking point change the levels of partials but not how fast they die, so only decay rates are compared: ln of each
partial's rate against what all other strings lead one to expect of it (`surface`). Single odd partials count less
(Student's t, by reweighting: Lange, Little & Taylor, J. Am. Stat. Assoc. 84 (1989) 881), for a soundboard takes energy
unevenly. Strings found dull or stray count as such when their neighbours are judged (repeated: an EM algorithm,
Dempster et al., J. R. Stat. Soc. B 39 (1977) 1). It is begun twice, with the base rate stated and with more suspicion,
because an EM algorithm finds the solution nearest to its start, and dull strings taken for sound bend the curve that
they are judged by; that solution is kept by which each string is better explained from all others. All departures of a
string are weighed together under "sound", "stray" and "dull", with a stated base rate (`dulling`).

Conventions. Rates are 1/T60; departures are natural logarithms: 0.69 is twice the damping.

Known limits. A harp whose strings are all old looks sound: only absolute damping (`loss`) or a reference recording
shows it. Partials that die much faster than the room's reverberation are known badly even without it (`room`), so that
very dull treble strings in live rooms look less dull than they are.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.brightness import brightness_db
from analyzer.decay import Decay, PartialDecay
from analyzer.dulling import slowness, weigh
from analyzer.settings import ConditionSettings
from analyzer.surface import Points, Rows, Table, body_columns, columns, departures

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What is known of one string's counted pluck."""

    place: int
    """Index of the string in the layout."""
    section: str
    """Strings of one material are one section."""
    decay: Decay
    repeats: tuple[Decay, ...] = ()
    """Of its other good plucks: they make its partials surer, and count less where plucks disagree."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """The judgement of one string's damping."""

    dull_probability: float | None
    departure: float | None
    """ln of its damping over what the other strings lead one to expect."""
    departure_u95: float | None
    expected_decay_s: float | None
    """This harp's own curve here, without this string."""
    brightness_db: float | None
    """Level of partials 4 and up against 1 to 3, as if plucked where no partial is left out (`brightness`)."""
    partials_used: int
    reason: str
    """Why it is not judged; empty where it is."""


def judge(strings: tuple[Heard, ...], settings: ConditionSettings) -> tuple[Condition, ...]:
    """Judge all heard strings of one harp together; the order of the result is that of `strings`."""
    s = settings
    points, count = _points(strings, s)
    judged = np.flatnonzero(count >= s.least_partials)
    if len(judged) < s.least_strings:
        reason = f"fewer than {s.least_strings} strings rang long enough to make a curve"
        return tuple(_unjudged(h, int(n), None, reason) for h, n in zip(strings, count, strict=True))
    found = _settled(points, s)
    probability = np.full(len(strings), np.nan)
    probability[judged] = found.dull
    expected = _expected_decays(strings, probability, s)
    at = {int(k): i for i, k in enumerate(judged)}
    return tuple(
        Condition(
            dull_probability=float(found.dull[at[k]]),
            departure=float(found.departure[at[k]]),
            departure_u95=float(s.coverage * found.deviation[at[k]]),
            expected_decay_s=expected[k],
            brightness_db=brightness_db(heard.decay.partials, s),
            partials_used=int(count[k]),
            reason="",
        )
        if k in at
        else _unjudged(heard, int(count[k]), expected[k], "too few of its partials could be followed")
        for k, heard in enumerate(strings)
    )


def _unjudged(heard: Heard, partials: int, expected_decay_s: float | None, reason: str) -> Condition:
    return Condition(
        dull_probability=None,
        departure=None,
        departure_u95=None,
        expected_decay_s=expected_decay_s,
        brightness_db=None,
        partials_used=partials,
        reason=heard.decay.reason or reason,
    )


def _points(strings: tuple[Heard, ...], s: ConditionSettings) -> tuple[Points, NDArray[np.int64]]:
    """The partials of all strings with enough of them, and how many each string has."""
    kept = [_pooled(h, s) for h in strings]
    count = np.array([len(partials) for partials in kept])
    rows = [
        (h.place, h.section, number, hz, value, deviation, level_db, k)
        for k, (h, partials) in enumerate(zip(strings, kept, strict=True))
        if len(partials) >= s.least_partials
        for number, hz, value, deviation, level_db in partials
    ]
    place, section, number, hz, value, deviation, level_db, string = zip(*rows, strict=True) if rows else ((),) * 8
    return Points(
        string=np.unique(np.array(string, dtype=np.int64), return_inverse=True)[1],
        place=np.array(place, dtype=float),
        section=np.array(section, dtype=np.str_),
        number=np.array(number, dtype=float),
        hz=np.array(hz, dtype=float),
        value=np.array(value, dtype=float),
        deviation=np.array(deviation, dtype=float),
        level_db=np.array(level_db, dtype=float),
    ), count


def _pooled(heard: Heard, s: ConditionSettings) -> list[tuple[int, float, float, float, float]]:
    """(number, Hz, ln of rate, its standard deviation, level in dB) of each partial, over all good plucks."""
    plucks: dict[int, list[PartialDecay]] = {}
    for decay in (*heard.repeats, heard.decay):
        for p in decay.partials:
            if p.number <= s.partials and p.range_db >= s.least_range_db:
                plucks.setdefault(p.number, []).append(p)
    pooled = []
    for number, readings in sorted(plucks.items()):
        value = -np.log([p.t60_s for p in readings])
        weight = 1 / np.array([p.t60_log_deviation for p in readings]) ** 2
        mean = float(weight @ value / weight.sum())
        # Where plucks disagree by more than their deviations, the mean is less sure (Birge, Phys. Rev. 40 (1932) 207).
        birge = float(weight @ (value - mean) ** 2) / max(len(value) - 1, 1)
        deviation = float(np.sqrt(max(1.0, birge) / weight.sum()))
        pooled.append((number, readings[-1].frequency_hz, mean, deviation, readings[-1].level_db))
    return pooled


@dataclass(frozen=True, slots=True, kw_only=True)
class _Settled:
    """All strings' departures, settled from one start."""

    departure: Vector
    """(K,)"""
    deviation: Vector
    """(K,) its standard deviation for a sound string."""
    dull: Vector
    """(K,) probability."""
    log_likelihood: float
    """Of every string's departures given all the others: by it the better of two solutions is told."""


def _settled(points: Points, s: ConditionSettings) -> _Settled:
    """The better of two solutions: begun from what is stated, and from more suspicion."""
    rows = Rows(points.string)
    smooth = np.hstack([columns(points.place, points.number, points.section, s), body_columns(points.hz, s)])
    starts = [(), s.first_base_rates]
    return max((_begun(points, rows, smooth, start, s) for start in starts), key=lambda found: found.log_likelihood)


def _begun(points: Points, rows: Rows, smooth: Table, first_rates: Sequence[float], s: ConditionSettings) -> _Settled:
    """The solution that is found from those base rates of the first rounds."""
    inside, level_db = rows.inside, rows.of(points.level_db, -np.inf)
    both = inside[:, :, None] & inside[:, None, :]
    diagonal = np.eye(inside.shape[1])
    partial_scatter, string_scatter, slow_scatter = s.partial_scatter, s.string_scatter, s.slow_scatter
    worth, shift, slow = np.ones(len(points.value)), np.zeros(len(points.value)), inside.astype(float)
    doubt = np.zeros(both.shape)
    dull = np.zeros(len(inside))
    for base_rate in (*first_rates, *[s.base_rate] * s.rounds):
        plain = rows.of((partial_scatter**2 + points.deviation**2) / worth, 1.0)
        own = (
            string_scatter**2 * both + slow_scatter**2 * slow[:, :, None] * slow[:, None] + plain[:, :, None] * diagonal
        )
        found = departures(smooth, rows, points.value, own + doubt, shift)
        worth = (s.freedom + 1) / (s.freedom + found.surprise**2)
        wider = float(np.sqrt(np.median(found.surprise**2) / CHI2_MEDIAN))
        partial_scatter = max(partial_scatter * float(np.clip(wider, *s.scale_step)), s.least_partial_scatter)
        # What a string like the others would show: without the doubt about its own dullness.
        precision = np.asarray(np.linalg.inv(found.covariance - doubt), dtype=float)
        mean, deviation = _along(found.error, precision, inside.astype(float))
        off = _off(mean / deviation, dull)
        slow_off = _off(np.divide(*_along(found.error, precision, slow)), dull)
        string_scatter = _scaled(string_scatter, off, s.least_scatter, s)
        slow_scatter = _scaled(slow_scatter, slow_off, s.least_slow_scatter, s)
        off = max(off, s.least_scale)
        slow = slowness(rows.of(points.value) - found.error, level_db, s.most_slow)
        judged = weigh(found.error, precision / off**2, slow, base_rate, s)
        dull, shift, doubt = judged.probability, judged.shift[inside], judged.shift_covariance
    square = np.einsum("kr,krq,kq->", found.error, precision, found.error) / off**2
    log_det = float(np.linalg.slogdet(precision)[1].sum()) - 2 * np.log(off) * len(points.value)
    return _Settled(
        departure=mean,
        deviation=deviation * off,
        dull=dull,
        log_likelihood=float(judged.log_likelihood.sum() + 0.5 * (log_det - square)),
    )


def _along(error: Table, precision: Table, pattern: Table) -> tuple[Vector, Vector]:
    """How much of its pattern (K, W) is in each string's error, by generalised least squares, and that's deviation."""
    weights = (precision @ pattern[:, :, None])[:, :, 0]
    size = np.sum(weights * pattern, axis=1)
    return np.sum(weights * error, axis=1) / size, 1 / np.sqrt(size)


def _off(score: Vector, dull: Vector) -> float:
    """By how much sound strings scatter more than stated: by those that lose less than expected, which are sound, and
    by all, which tell it more closely but may be dull; the geometric mean of both."""
    less = score <= 0
    every = _weighted_median(np.abs(score), 1 - dull)
    low = _weighted_median(-score[less], 1 - dull[less]) if less.any() else every
    return NORMAL_MAD * float(np.sqrt(every * low))


def _scaled(scatter: float, off: float, least: float, s: ConditionSettings) -> float:
    return float(np.clip(scatter * np.clip(off, *s.scale_step), least, s.most_scatter))


NORMAL_MAD = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation."""
CHI2_MEDIAN = 0.4549
"""Of the square of a standard normal variable."""


def _weighted_median(values: Vector, weights: Vector) -> float:
    order = np.argsort(values)
    cumulative = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(cumulative, cumulative[-1] / 2)])


def _expected_decays(strings: tuple[Heard, ...], dull: Vector, s: ConditionSettings) -> list[float | None]:
    """What the other strings that are not dull lead one to expect of each string's `decay_s`."""
    known = [k for k, h in enumerate(strings) if h.decay.decay_s]
    if len(known) < s.least_strings:
        return [None] * len(strings)
    at = np.array(known)
    value = np.array([np.log(strings[k].decay.decay_s or 1.0) for k in known])
    odd = np.nan_to_num(dull[at]) * s.dull_scatter
    place = np.array([strings[k].place for k in known], dtype=float)
    section = np.array([strings[k].section for k in known])
    smooth = columns(place, np.ones(len(known)), section, s)
    scatter = (s.decay_scatter**2 + odd**2)[:, None, None]
    found = departures(smooth, Rows(np.arange(len(known))), value, scatter, np.zeros(len(known)))
    out: list[float | None] = [None] * len(strings)
    for k, own, error in zip(known, value, found.error[:, 0], strict=True):
        out[k] = float(np.exp(own - error))
    return out
