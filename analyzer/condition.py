"""Dull and false strings: each string against this harp's own curves.

Task. From every counted pluck's partials to the probability that a string is dull (damped more than its place on this
harp explains) or false (its partials beat or split), with the figures behind it.

Method. No published threshold for a "dead" harp string exists, so the judgement is comparative. Loudness and the
plucking point change the levels of partials but not how fast they die, so only decay rates are compared. For each
partial number a robust local line over the strings, leaving the judged one out, gives the rate its neighbours lead one
to expect; a step where the material changes is allowed. A string's departure is the weighted mean of ln(rate/expected)
over its partials. Strings already found dull count less for their neighbours' curve (repeated until settled: an EM
algorithm, Dempster et al., J. R. Stat. Soc. B 39 (1977) 1). A departure is then weighed under "sound" (the scatter of
this harp's strings) and "dull" (1.3 to 3.5 times the damping) with a stated base rate.

Conventions. Rates are 60/T60 in dB/s; departures are natural logarithms: 0.69 is twice the damping.

Known limits. A harp whose strings are all old looks sound: only the absolute damping shows it. At the ends of the harp
the curve is carried beyond its data; departures there count less.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.decay import Decay
from analyzer.settings import ConditionSettings

Vector = NDArray[np.float64]
Table = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What is known of one string's counted pluck; None where the string was not heard."""

    place: int
    """Index of the string in the layout."""
    section: str
    """Strings of one material are one section."""
    decay: Decay


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """The judgement of one string."""

    dull_probability: float | None
    departure: float | None
    """ln of its damping over what its neighbours lead one to expect."""
    departure_u95: float | None
    expected_decay_s: float | None
    """This harp's own curve here, without this string."""
    brightness_db: float | None
    """Level of partials 4 and up against 1 to 3."""
    reason: str
    """Why it is not judged; empty where it is."""


def judge(strings: tuple[Heard, ...], settings: ConditionSettings) -> tuple[Condition, ...]:
    """Judge all heard strings of one harp together; the order of the result is that of `strings`."""
    s = settings
    if len(strings) < s.least_strings:
        return tuple(_unjudged(h, None, f"fewer than {s.least_strings} strings were heard") for h in strings)
    place = np.array([h.place for h in strings], dtype=float)
    section = np.array([h.section for h in strings])
    rate, doubt = _rates(strings, s)
    trust = np.ones(len(strings))
    departure, wide, probability = np.full((3, len(strings)), np.nan)
    for _ in range(s.rounds):
        departure, wide = _departures(place, section, rate, doubt, trust, s)
        probability = _dull_probability(departure, wide, trust, s)
        trust = np.where(np.isfinite(probability), 1 - probability, 1.0)
    whole = np.array([[np.log(h.decay.decay_s) if h.decay.decay_s else np.nan] for h in strings])
    curve, _ = _expected(place, section, whole, trust, s)
    out = []
    for k, heard in enumerate(strings):
        expected = float(np.exp(curve[k, 0])) if np.isfinite(curve[k, 0]) else None
        if not np.isfinite(probability[k]):
            out.append(_unjudged(heard, expected, "too few of its partials could be followed"))
            continue
        out.append(
            Condition(
                dull_probability=float(probability[k]),
                departure=float(departure[k]),
                departure_u95=float(2 * wide[k]),
                expected_decay_s=expected,
                brightness_db=_brightness_db(heard.decay),
                reason="",
            )
        )
    return tuple(out)


def _unjudged(heard: Heard, expected_decay_s: float | None, reason: str) -> Condition:
    return Condition(
        dull_probability=None,
        departure=None,
        departure_u95=None,
        expected_decay_s=expected_decay_s,
        brightness_db=_brightness_db(heard.decay),
        reason=heard.decay.reason or reason,
    )


def _brightness_db(decay: Decay) -> float | None:
    """Level of partials 4 and up against 1 to 3, dB; None where either is missing."""
    low = [10 ** (p.level_db / 10) for p in decay.partials if p.number <= 3]
    high = [10 ** (p.level_db / 10) for p in decay.partials if p.number > 3]
    return float(10 * np.log10(sum(high) / sum(low))) if low and high else None


def _rates(strings: tuple[Heard, ...], s: ConditionSettings) -> tuple[Table, Table]:
    """(K, partials) ln of the decay rate and its standard deviation; nan where not measured."""
    rate, doubt = np.full((2, len(strings), s.partials), np.nan)
    for k, heard in enumerate(strings):
        for p in heard.decay.partials:
            if p.number <= s.partials and p.range_db >= s.least_range_db:
                rate[k, p.number - 1] = -np.log(p.t60_s)
                doubt[k, p.number - 1] = p.t60_log_deviation
    return rate, doubt


def _expected(
    place: Vector, section: NDArray[np.str_], values: Table, trust: Vector, s: ConditionSettings
) -> tuple[Table, Table]:
    """(K, columns) what the other strings lead one to expect, and how far beyond its data that reaches (0 inside).

    A local line with a step at a change of material, weighted by nearness and trust, made robust by Tukey-like
    reweighting (Cleveland, J. Am. Stat. Assoc. 74 (1979) 829).
    """
    expected = np.full(values.shape, np.nan)
    beyond = np.zeros(values.shape)
    ridge = np.diag([0.0, 1 / s.slope_prior**2, 1 / s.step_prior**2])
    for column in range(values.shape[1]):
        there = np.isfinite(values[:, column])
        for k in range(len(place)):
            near = np.exp(-0.5 * ((place - place[k]) / s.reach_strings) ** 2) * trust * there
            near[k] = 0.0
            use = near > s.least_weight
            if use.sum() < s.least_neighbours:
                continue
            x, y, weight = place[use] - place[k], values[use, column], near[use]
            columns = np.column_stack([np.ones_like(x), x, section[use] != section[k]])
            robust = np.ones_like(x)
            solution = np.zeros(3)
            for _ in range(s.robust_rounds):
                both = weight * robust
                normal = (columns * both[:, None]).T @ columns + ridge * s.usual_scatter**2
                solution = np.linalg.solve(normal, columns.T @ (both * y))
                rest = y - columns @ solution
                scale = 1.4826 * float(np.median(np.abs(rest))) + s.least_scatter
                robust = 1 / (1 + (rest / (s.robust_scatters * scale)) ** 2)
            expected[k, column] = solution[0]
            total = float(weight.sum())
            beyond[k, column] = abs(float(weight @ x)) / total / s.reach_strings
    return expected, beyond


def _departures(
    place: Vector, section: NDArray[np.str_], rate: Table, doubt: Table, trust: Vector, s: ConditionSettings
) -> tuple[Vector, Vector]:
    """(K,) weighted mean of ln(rate/expected) over partials, and its standard deviation for a sound string."""
    expected, beyond = _expected(place, section, rate, trust, s)
    rest = rate - expected
    count = np.isfinite(rest).sum(axis=0)
    typical = np.array(
        [
            1.4826 * np.nanmedian(np.abs(rest[:, n])) if count[n] >= s.least_neighbours else np.inf
            for n in range(rest.shape[1])
        ]
    )
    weight = np.where(np.isfinite(rest), 1 / (typical[None, :] ** 2 + doubt**2 + s.least_scatter**2), 0.0)
    total = weight.sum(axis=1)
    enough = (np.isfinite(rest).sum(axis=1) >= s.least_partials) & (total > 0)
    safe = np.where(total > 0, total, 1.0)
    mean = np.where(enough, (weight * np.where(np.isfinite(rest), rest, 0.0)).sum(axis=1) / safe, np.nan)
    middle = _weighted_median(mean[enough], trust[enough]) if enough.any() else 0.0
    departure = mean - middle
    own = np.sqrt(1 / safe)
    scatter = max(1.4826 * _weighted_median(np.abs(departure[enough]), trust[enough]), s.least_scatter)
    edge = (weight * beyond).sum(axis=1) / safe
    return departure, np.where(enough, np.hypot(np.maximum(scatter, own * s.own_worth), s.edge_doubt * edge), np.nan)


def _weighted_median(values: Vector, weights: Vector) -> float:
    order = np.argsort(values)
    cumulative = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(cumulative, cumulative[-1] / 2)])


def _dull_probability(departure: Vector, wide: Vector, trust: Vector, s: ConditionSettings) -> Vector:
    """Posterior of "dull" with the base rate, from departures and the scatter of sound strings."""
    with np.errstate(invalid="ignore"):
        sound = np.exp(-0.5 * (departure / wide) ** 2) / (wide * np.sqrt(2 * np.pi))
        sound = (1 - s.stray) * sound + s.stray * np.exp(-np.abs(departure) / s.stray_scale) / (2 * s.stray_scale)
        grid = np.linspace(np.log(s.dull_least), np.log(s.dull_most), s.dull_steps)
        bells = np.exp(-0.5 * ((departure[:, None] - grid) / wide[:, None]) ** 2) / (wide[:, None] * np.sqrt(2 * np.pi))
        dull = bells.mean(axis=1)
        return np.asarray(s.base_rate * dull / (s.base_rate * dull + (1 - s.base_rate) * sound))
