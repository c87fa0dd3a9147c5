"""Simulated settling: harps that creep by laws stated here, surveyed with noise as measured, and what is made of it.

Run `python -m tests.bench.settling [HARPS]` from the repository; each row is one law. `logarithmic` and `exponential`
are what the fit assumes; `power`, `stretched` and `two stages` are not. All constants are our own statement: no creep
law of harp strings was found published.
"""

import sys
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analyzer.settings import SettlingSettings
from analyzer.settling import Readings, fit

SETTINGS = SettlingSettings()
STRINGS_N = 34
TAUS = {
    "logarithmic": (0.1, 2.0),
    "exponential": (3.0, 9.0),
    "power": (0.5, 3.0),
    "stretched": (1.0, 5.0),
    "two stages": (0.5, 2.0),
}
TOTALS = {"logarithmic": 22.0, "exponential": 18.0, "power": 22.0, "stretched": 22.0, "two stages": 20.0}
"""Cents that the middle string creeps in four weeks."""
SPREAD = 0.35
"""Standard deviation of the logarithm of a string's creep."""


@dataclass(frozen=True)
class Harp:
    readings: Readings
    settled_day: float
    slipping: int | None


def creep(law: str, days, tau):
    days = np.asarray(days, dtype=float)
    match law:
        case "logarithmic":
            return np.log1p(days / tau)
        case "exponential":
            return -np.expm1(-days / tau)
        case "power":
            return (1 + days / tau) ** 0.2 - 1
        case "stretched":
            return -np.expm1(-((days / tau) ** 0.6))
        case "two stages":
            return -0.5 * np.expm1(-days / tau) - 0.5 * np.expm1(-days / (8 * tau))
    raise ValueError(law)


def make_harp(law: str, rng: np.random.Generator, *, slips: bool = False, retuned: bool = False) -> Harp:
    """One harp, its readings and the truth."""
    tau = float(np.exp(rng.uniform(*np.log(TAUS[law]))))
    total = TOTALS[law] * float(np.exp(rng.normal(0, 0.35))) * np.exp(rng.normal(0, SPREAD, STRINGS_N))
    shape: Callable = lambda t: creep(law, t, tau) / creep(law, 28.0, tau)  # noqa: E731
    surveys_n = int(rng.integers(4, 11))
    last = int(rng.integers(14, 29))
    between = rng.choice(np.arange(1, last), surveys_n - 2, replace=False)
    days = np.sort(np.concatenate([[0.0, last], between]).astype(float))
    grid = np.arange(0.0, 400.0, 0.05)
    week = total.max() * (shape(grid + 7) - shape(grid))
    settled = float(grid[np.argmax(week <= 5.0)])
    true = rng.normal(0, 3, STRINGS_N)[:, None] - total[:, None] * shape(days)[None, :]
    slipping = None
    if slips:
        slipping = int(rng.integers(STRINGS_N))
        true[slipping] -= rng.uniform(1.0, 3.0) * days
    again: tuple[float, ...] = ()
    if retuned:
        after = int(rng.integers(1, surveys_n))
        again = (float(days[after] - 0.5),)
        left = rng.normal(0, 1.5, STRINGS_N)
        true[:, after:] += (
            left[:, None] - true[:, after : after + 1] - total[:, None] * (shape(days[after]) - shape(again[0]))
        )
    u95 = np.exp(rng.normal(np.log(0.8), 0.4, (STRINGS_N, surveys_n)))
    clock = 0.35
    cents = true + rng.normal(0, u95 / 1.96) + rng.normal(0, clock / 1.96, surveys_n)[None, :]
    cents += rng.normal(0, 0.7, cents.shape) + rng.normal(0, 0.8, surveys_n)[None, :]  # another pluck; weather
    cents[rng.random(cents.shape) < 0.03] = np.nan
    readings = Readings(
        strings=tuple(f"S{i}" for i in range(STRINGS_N)),
        days=days,
        cents=cents,
        u95_cents=np.hypot(u95, 1.5),
        common_u95_cents=np.full(surveys_n, clock),
        retuned_days=again,
    )
    return Harp(readings, settled, slipping)


def measure(law: str, harps_n: int, seed: int, **kind: bool) -> dict[str, float]:
    """Shares over that many harps."""
    rng = np.random.default_rng(seed)
    errors, covered, found, alarms, widths, alarmed = [], [], [], 0, [], 0
    for _ in range(harps_n):
        harp = make_harp(law, rng, **kind)
        result = fit(harp.readings, SETTINGS)
        day = np.inf if result.settled_day is None else result.settled_day
        low = np.inf if result.settled_day_low is None else result.settled_day_low
        high = np.inf if result.settled_day_high is None else result.settled_day_high
        errors.append(abs(day - harp.settled_day))
        covered.append(low - 0.05 <= harp.settled_day <= high + 0.05)
        widths.append(high - low)
        flagged = {i for i, s in enumerate(result.strings) if s.slipping}
        if harp.slipping is not None:
            found.append(harp.slipping in flagged)
        wrong = len(flagged - {harp.slipping})
        alarms += wrong
        alarmed += wrong > 0
    return {
        "within 2 days": float(np.mean(np.array(errors) <= 2)),
        "median error": float(np.median(errors)),
        "covered 90 %": float(np.mean(covered)),
        "median width": float(np.median(widths)),
        "slip found": float(np.mean(found)) if found else float("nan"),
        "false alarms, strings": alarms / (harps_n * STRINGS_N),
        "false alarms, harps": alarmed / harps_n,
    }


def main() -> None:
    harps_n = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    kinds = ({}, {"slips": True}, {"retuned": True})
    for law in TAUS:
        for k, kind in enumerate(kinds):
            values = measure(law, harps_n, seed=100 + k, **kind)
            cells = "  ".join(f"{name} {value:.3f}" for name, value in values.items())
            print(f"{law:<12} {'+'.join(kind) or 'plain':<8} {cells}", flush=True)


if __name__ == "__main__":
    main()
