"""Simulated settling (`settling_harps`): the settled day, its interval, slipping strings, law by law.

Run `python -m tests.bench.settling [HARPS]` from the repository: so many harps to each law and kind (20), fixed seeds.

Columns: `within 2 days`, share of harps whose predicted settled day is that near (a harp that does not settle in 180
days counts where the tool says so); `covered`, share of 90 % intervals that hold the true day; `bound`, the same two of
one who knows every string's law with its constants and the noise, and has only the sizes, levels and the weather to
find: nobody can do better. `slips`: found, on harps with one; `alarms`: harps, and strings, wrongly said to slip.
"""

import sys
from collections import defaultdict

import numpy as np

from analyzer.settings import SettlingSettings
from analyzer.settling import fit
from tests.bench.settling_harps import LAWS, STRINGS_N, Harp, make_harp, settled_day

SETTINGS = SettlingSettings()
SEED = 2027
Result = dict[str, float]


def judged(low: float | None, day: float | None, high: float | None, truth: float) -> tuple[bool, bool]:
    """Whether the day is within 2, and whether the interval holds it; infinite past the horizon."""
    ends = [np.inf if v is None or v > SETTINGS.horizon_days else v for v in (low, day, high)]
    truth = truth if truth <= SETTINGS.horizon_days else np.inf
    near = ends[1] == truth or abs(ends[1] - truth) <= 2
    return bool(near), bool(ends[0] - 0.05 <= truth <= ends[2] + 0.05)


def bound(harp: Harp, rng: np.random.Generator) -> tuple[bool, bool]:
    """The settled day by generalised least squares where all but sizes, levels and weather is known."""
    cents = harp.readings.cents
    n, j = cents.shape
    y, weights = np.nan_to_num(cents), np.where(np.isnan(cents), 1e-12, harp.noise**-2)
    days = harp.readings.days
    weather = 0.9**2 * np.exp(-np.abs(days[:, None] - days) / 4) + np.eye(j) * 0.18**2
    precision, right = np.zeros((n + j, n + j)), np.zeros(n + j)
    precision[n:, n:] = np.linalg.inv(weather)
    for i, g in enumerate(harp.curves):
        own = np.diag(weights[i])
        for k in np.unique(harp.tunings):
            w = weights[i] * (harp.tunings == k)
            own -= np.outer(w, w) / (w.sum() + 1e-9)
        precision[i, i] = g @ own @ g + 60**-2
        precision[i, n:] = precision[n:, i] = -g @ own
        precision[n:, n:] += own
        right[i] = -g @ own @ y[i]
        right[n:] += own @ y[i]
    covariance = np.linalg.inv(precision)
    root = np.linalg.cholesky(covariance[:n, :n])
    mean, unit = (covariance @ right)[:n], harp.fall / harp.sizes[:, None]
    draws = [settled_day(unit * np.abs(mean + root @ rng.standard_normal(n))[:, None]) for _ in range(40)]
    low, day, high = np.sort(draws)[[2, 20, 37]]
    return judged(low, day, high, harp.settled_day)


def measure(law: str, number: int, *, slips: bool) -> Result:
    """What comes of one harp."""
    seed = [SEED, number, LAWS.index(law), int(slips)]
    harp = make_harp(law, np.random.default_rng(seed), slips=slips)
    found = fit(harp.readings, SETTINGS)
    near, covered = judged(found.settled_day_low, found.settled_day, found.settled_day_high, harp.settled_day)
    flagged = {i for i, s in enumerate(found.strings) if s.slipping}
    wrong = len(flagged - {harp.slipping})
    result = {
        "surveys": len(harp.readings.days),
        "beyond": harp.settled_day > harp.readings.days[-1],
        "within": near,
        "covered": covered,
        "alarm": wrong > 0,
        "alarm strings": wrong / STRINGS_N,
    }
    if slips:
        result["found"] = harp.slipping in flagged
    else:
        result["bound within"], result["bound covered"] = bound(harp, np.random.default_rng(seed))
    return result


def show(name: str, results: list[Result]) -> None:
    values = defaultdict(list)
    for result in results:
        for key, value in result.items():
            values[key].append(float(value))
    mean = {key: np.mean(v) for key, v in values.items()}
    line = f"{name:<26} n {len(results):>4}  within 2 days {mean['within']:.2f}  covered {mean['covered']:.2f}"
    if "bound within" in mean:
        line += f"  bound {mean['bound within']:.2f} {mean['bound covered']:.2f}"
    line += f"  alarms {mean['alarm']:.3f} of harps {mean['alarm strings']:.4f} of strings"
    print(line + (f"  slips {mean['found']:.2f}" if "found" in mean else ""), flush=True)


def main() -> None:
    harps_n = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    every: list[Result] = []
    for slips in (False, True):
        for law in LAWS:
            results = [measure(law, number, slips=slips) for number in range(harps_n)]
            show(f"{law}{', one slips' if slips else ''}", results)
            every += results
    for low, high in ((4, 5), (6, 7), (8, 10)):
        show(f"{low}-{high} surveys", [r for r in every if low <= r["surveys"] <= high])
    show("settled when surveyed", [r for r in every if not r["beyond"]])
    show("settled only later", [r for r in every if r["beyond"]])
    show("all", every)


if __name__ == "__main__":
    main()
