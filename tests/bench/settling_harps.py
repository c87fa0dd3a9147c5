"""Invented harps that creep by seven laws, surveyed as people survey, with noise as measured: for `settling`.

Laws, each with its constants drawn anew for each harp, a fall g(t) from the day of first tuning on, t in days:

- logarithmic, ln(1 + t/τ), τ 0.02-2: primary creep of polymers and glasses as commonly drawn (from memory);
- power, (t + t0)^n − t0^n, n 0.1-0.35, t0 0.02-0.5: Findley's law of polymer creep and Andrade's of metals, n = 1/3
  (Andrade, Proc. R. Soc. A 84 (1910) 1), the string being up for some time before the first survey;
- exponential, 1 − exp(−t/τ), τ 2-10: the standard linear solid (Zener);
- two exponentials, τ 0.3-2 and 5-20, the slow one 30-70 % of the whole: two Kelvin elements;
- Burgers: an exponential with τ 1-6 and a flow without end, 10-40 % of the fall of 28 days (Burgers, 1935; from
  memory);
- stretched exponential, 1 − exp(−(t/τ)^β), β 0.3-0.7, τ 1-10 (Kohlrausch, Ann. Phys. 91 (1854) 179; for creep of
  polymers with β near 1/3: Struik, Physical Aging, 1978, from memory);
- hyperbolic, t^ψ / (d + t^ψ), ψ 0.6-1, d 2-10: creep of concrete (ACI 209, from memory: ψ 0.6, d 10).

And two more on which nothing was ever developed, reported apart:

- two logarithms, ln(1 + t/τ), τ 0.02-0.5 and 1-10, the slow one 30-70 % of the fall of 28 days: two such processes;
- Andrade and flow, (t + t0)^(1/3) − t0^(1/3), t0 0.02-0.5, and a flow without end, 10-40 % of the fall of 28 days:
  Andrade's law whole, transient and viscous (1910, as above).

No creep law, time constant or size of fall of harp strings was found published: "holds after about a fortnight" is
common practice, no source. All ranges are our own statement and were set before anything was fitted to them.

Strings: wire, gut and nylon in turn, each material with its own size (± 30 %) and pace (± 25 %) of creep, each string
with its own (± 30 %, ± 15 %); on half of the harps 3-20 % of the strings are newly fitted and creep 1.5-3 times as
much. Weather: humidity wanders (a first-order process of 4 days, 0.4-1.5 cents) and moves all strings, each material
by its own share. Readings: 0.3-1.5 cents (95 %) by register and as much again by chance, 0.8 cents (standard
deviation) for another pluck, 0.35 for the clock, 3 % missing. Surveys: 4-10, the first on day 0, the last on day 10-35,
between them days as people choose them, close at first. On half of the harps the strings are tuned anew once or twice,
when the middle one has fallen by 4 cents, each to within 1.5 cents; half of these tunings are stated. A retuning is
not itself followed by new creep.
"""

from dataclasses import dataclass

import numpy as np

from analyzer.tunings import Readings

STRINGS_N = 34
LAWS = ("logarithmic", "power", "exponential", "two exponentials", "Burgers", "stretched", "hyperbolic")
UNSEEN = ("two logarithms", "Andrade and flow")
_GROUPS = np.repeat([0, 1, 2], [6, 16, 12])
"""Wire, gut, nylon, lowest first."""
_MATERIALS = ("wire", "gut", "nylon")
_USUAL_DAYS = (1, 2, 3, 4, 5, 7, 10, 12, 14, 17, 21, 24, 28, 31)
_LAST_DAYS = (10, 14, 21, 28, 35)
NEVER = 400.0


@dataclass(frozen=True)
class Harp:
    readings: Readings
    settled_day: float
    """Of all strings but the slipping one, by creep alone; infinite where it does not settle within 400 days."""
    slipping: int | None
    law: str
    fall: np.ndarray
    """(N, T) cents that each string has crept by the days of `grid`, the slipping one as if it held."""
    curves: np.ndarray
    """(N, J) each string's law at the surveys, without its size."""
    sizes: np.ndarray
    """(N,)"""
    noise: np.ndarray
    """(N, J) standard deviations of readings, weather apart."""
    tunings: np.ndarray
    """(J,) number of the tuning each survey follows."""


GRID = np.concatenate([np.arange(0, 60, 0.05), np.arange(60, NEVER + 8, 0.25)])


CONSTANTS_N = dict(zip((*LAWS, *UNSEEN), (1, 2, 1, 3, 2, 2, 2, 3, 2), strict=True))


def curve(law: str, unit: np.ndarray):
    """The law as a function of days; its constants from places in their ranges, (CONSTANTS_N[law], ...) in 0 to 1."""

    def between(low, high, place):
        return low + (high - low) * place

    def log_between(low, high, place):
        return np.exp(between(np.log(low), np.log(high), place))

    match law:
        case "logarithmic":
            tau = log_between(0.02, 2, unit[0])
            return lambda t: np.log1p(t / tau)
        case "power":
            n_, start = between(0.1, 0.35, unit[0]), log_between(0.02, 0.5, unit[1])
            return lambda t: (t + start) ** n_ - start**n_
        case "exponential":
            tau = log_between(2, 10, unit[0])
            return lambda t: -np.expm1(-t / tau)
        case "two exponentials":
            fast, slow = log_between(0.3, 2, unit[0]), log_between(5, 20, unit[1])
            share = between(0.3, 0.7, unit[2])
            return lambda t: -(1 - share) * np.expm1(-t / fast) - share * np.expm1(-t / slow)
        case "Burgers":
            tau, flow = log_between(1, 6, unit[0]), between(0.1, 0.4, unit[1])
            return lambda t: -(1 - flow) * np.expm1(-t / tau) / -np.expm1(-28 / tau) + flow * t / 28
        case "stretched":
            beta, tau = between(0.3, 0.7, unit[0]), log_between(1, 10, unit[1])
            return lambda t: -np.expm1(-((t / tau) ** beta))
        case "hyperbolic":
            psi, half = between(0.6, 1.0, unit[0]), log_between(2, 10, unit[1])
            return lambda t: t**psi / (half + t**psi)
        case "two logarithms":
            fast, slow = log_between(0.02, 0.5, unit[0]), log_between(1, 10, unit[1])
            share = between(0.3, 0.7, unit[2])
            parts = ((1 - share, fast), (share, slow))
            return lambda t: sum(part * np.log1p(t / tau) / np.log1p(28 / tau) for part, tau in parts)
        case "Andrade and flow":
            start, flow = log_between(0.02, 0.5, unit[0]), between(0.1, 0.4, unit[1])
            whole = np.cbrt(28 + start) - np.cbrt(start)
            return lambda t: (1 - flow) * (np.cbrt(t + start) - np.cbrt(start)) / whole + flow * t / 28
    raise ValueError(law)


def make_harp(law: str, rng: np.random.Generator, *, surveys_n: int | None = None, slips: bool = False) -> Harp:
    """One harp, its readings and the truth."""
    n = STRINGS_N
    fall_of = curve(law, rng.random(CONSTANTS_N[law]))
    days = _days(surveys_n or int(rng.integers(4, 11)), rng)
    size = np.exp(rng.uniform(np.log(8), np.log(35)))
    size *= (np.array([0.6, 1.0, 1.2]) * np.exp(rng.normal(0, 0.3, 3)))[_GROUPS] * np.exp(rng.normal(0, 0.3, n))
    pace = np.exp(rng.normal(0, 0.25, 3))[_GROUPS] * np.exp(rng.normal(0, 0.15, n))
    if rng.random() < 0.5:
        new = rng.random(n) < rng.uniform(0.03, 0.2)
        size = np.where(new, size * rng.uniform(1.5, 3.0, n), size)
    scale = size / fall_of(np.array(28.0))
    fall = scale[:, None] * fall_of(GRID[None, :] * pace[:, None])
    at = scale[:, None] * fall_of(days[None, :] * pace[:, None])
    curves = at / size[:, None]
    slipping, extra = None, np.zeros((n, len(days)))
    if slips:
        slipping = int(rng.integers(n))
        extra[slipping] = _slip(days, rng)
    weather = _wander(days, rng)[None, :] * np.exp(rng.normal(0, 0.3, 3))[_GROUPS][:, None]
    drop = at + extra - weather
    true, tunings, stated = _tuned(drop, days, rng)
    register = np.abs(np.linspace(-1, 1, n)) ** 2
    u95 = (0.3 + 1.2 * register * rng.uniform(0.5, 1.0))[:, None] * np.exp(rng.normal(0, 0.3, (n, len(days))))
    noise = np.hypot(u95 / 1.96, 0.8)
    cents = true + rng.normal(0, noise) + rng.normal(0, 0.35 / 1.96, len(days))[None, :]
    cents[rng.random(cents.shape) < 0.03] = np.nan
    readings = Readings(
        strings=tuple(f"S{i}" for i in range(n)),
        days=days,
        cents=cents,
        u95_cents=np.broadcast_to(u95, cents.shape).copy(),
        common_u95_cents=np.full(len(days), 0.35),
        retuned_days=stated,
        materials=tuple(_MATERIALS[k] for k in _GROUPS),
    )
    holding = fall if slipping is None else np.delete(fall, slipping, axis=0)
    return Harp(readings, settled_day(holding), slipping, law, fall, curves, size, noise, tunings)


def settled_day(fall: np.ndarray, tolerance: float = 5.0, stay_days: float = 7.0) -> float:
    """From which no string moves by more than the tolerance in a week; (N, T) on GRID."""
    inside = GRID <= NEVER
    later = np.stack([np.interp(GRID[inside] + stay_days, GRID, row) for row in fall])
    restless = ((later - fall[:, inside]) > tolerance).any(axis=0)
    if restless[-1]:
        return np.inf
    last = np.flatnonzero(restless)
    return float(GRID[last[-1] + 1]) if len(last) else 0.0


def _days(surveys_n: int, rng: np.random.Generator) -> np.ndarray:
    last = int(rng.choice([d for d in _LAST_DAYS if sum(u < d for u in _USUAL_DAYS) >= surveys_n - 2]))
    between = rng.choice([d for d in _USUAL_DAYS if d < last], surveys_n - 2, replace=False)
    return np.sort(np.concatenate([[0.0, last], between]))


def _slip(days: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """1-3 cents a day, from the first survey on or from a later one in the first half, in steps of uneven size."""
    rate = rng.uniform(1.0, 3.0)
    begin = 0.0 if rng.random() < 0.5 else float(days[rng.integers(0, (len(days) + 1) // 2)])
    lengths = np.diff(np.maximum(days, begin))
    steps = np.array([rng.gamma(max(2 * d, 1e-9)) / 2 if d > 0 else 0.0 for d in lengths])
    return np.concatenate([[0.0], rate * np.cumsum(steps)])


def _wander(days: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    size = np.exp(rng.uniform(np.log(0.4), np.log(1.5)))
    values = [rng.normal(0, size)]
    for gap in np.diff(days):
        keep = np.exp(-gap / 4)
        values.append(keep * values[-1] + rng.normal(0, size * np.sqrt(1 - keep**2)))
    return np.array(values)


def _tuned(drop: np.ndarray, days: np.ndarray, rng: np.random.Generator):
    """Where the strings stand (N, J), the tuning that each survey follows (J,), the days stated."""
    n, j = drop.shape
    left = rng.normal(0, 3, n)
    allowed = 0 if rng.random() < 0.5 else int(rng.integers(1, 3))
    said = bool(rng.random() < 0.5)
    true = np.zeros((n, j))
    tunings, stated, base, number = np.zeros(j, dtype=int), [], drop[:, 0], 0
    for m in range(j):
        if m and number < allowed and np.median(drop[:, m - 1] - base) > 4:
            number += 1
            base, left = drop[:, m - 1], rng.normal(0, 1.5, n)
            if said:
                stated.append(float(days[m - 1]))
        tunings[m] = number
        true[:, m] = left - (drop[:, m] - base)
    return true, tunings, tuple(stated)
