"""Simulated settling (`settling_harps`): the settled day, its interval, slipping strings, law by law.

Run `python -m tests.bench.settling [HARPS [SEED [BOUNDS]]]` from the repository: so many harps to each law and kind
(14; seed 2027, on which nothing was set), the first so many with what can be known at best (7; `settling_bounds`).

Columns: `within 2 days`, share of harps whose predicted settled day is that near (a harp that does not settle in 180
days counts where the tool says so); `covered`, share of 90 % intervals that hold the true day. `slips`: found, on harps
with one; `alarms`: harps, and strings, wrongly said to slip; `retunings`: harps on which they were not all found, or
more than there were. The rows `says` go by what the tool itself states: an interval of at most 4 days, 8, or wider.
The rows of the two laws that nothing was developed on come last, and count in no other.
"""

import sys
import time
from collections import defaultdict

import numpy as np

from analyzer.settling import fit
from tests.bench.settling_bounds import KNOWING, SETTINGS, Days, days_of
from tests.bench.settling_harps import LAWS, STRINGS_N, UNSEEN, make_harp

SEED = 2027
Result = dict[str, float]


def judged(days: Days, truth: float) -> tuple[bool, bool]:
    """Whether the day is within 2, and whether the interval holds it; infinite past the horizon."""
    ends = [np.inf if v is None or v > SETTINGS.horizon_days else v for v in days]
    truth = truth if truth <= SETTINGS.horizon_days else np.inf
    near = ends[1] == truth or abs(ends[1] - truth) <= 2
    return bool(near), bool(ends[0] - 0.05 <= truth <= ends[2] + 0.05)


def measure(law: str, number: int, seed: int, *, slips: bool, bounds: bool) -> Result:
    """What comes of one harp."""
    harp = make_harp(law, np.random.default_rng([seed, number, (*LAWS, *UNSEEN).index(law), int(slips)]), slips=slips)
    begun = time.process_time()
    found = fit(harp.readings, SETTINGS)
    took = time.process_time() - begun
    near, covered = judged(days_of(found), harp.settled_day)
    flagged = {i for i, s in enumerate(found.strings) if s.slipping}
    wrong = len(flagged - {harp.slipping})
    low, _, high = days_of(found)
    result = {
        "surveys": len(harp.readings.days),
        "beyond": harp.settled_day > harp.readings.days[-1],
        "said": np.inf if high is None or low is None else high - low,
        "within": near,
        "covered": covered,
        "alarm": wrong > 0,
        "alarm strings": wrong / STRINGS_N,
        "retunings": set(found.retuned_surveys) != set(np.flatnonzero(np.diff(harp.tunings)) + 1),
        "seconds": took,
    }
    if slips:
        result["found"] = harp.slipping in flagged
    elif bounds:
        for name, known in KNOWING.items():
            result[f"{name} within"], result[f"{name} covered"] = judged(known(harp), harp.settled_day)
    return result


def show(name: str, results: list[Result]) -> None:
    if not results:
        return
    values = defaultdict(list)
    for result in results:
        for key, value in result.items():
            values[key].append(float(value))
    mean = {key: np.mean(v) for key, v in values.items()}
    line = f"{name:<28} n {len(results):>4}  within 2 days {mean['within']:.2f}  covered {mean['covered']:.2f}"
    line += f"  alarms {mean['alarm']:.3f} of harps {mean['alarm strings']:.4f} of strings"
    line += f"  retunings {mean['retunings']:.2f}" + (f"  slips {mean['found']:.2f}" if "found" in mean else "")
    print(line, flush=True)
    bounded = [r for r in results if "all within" in r]
    if bounded:
        of = [("nothing", ""), *((name, f"{name} ") for name in KNOWING)]
        shares = (f"{name} {np.mean([r[f'{k}within'] for r in bounded]):.2f}" for name, k in of)
        print(f"{'':<28} n {len(bounded):>4}  within 2 days knowing {'; '.join(shares)}", flush=True)


def main() -> None:
    harps_n = int(sys.argv[1]) if len(sys.argv) > 1 else 14
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else SEED
    bounds_n = int(sys.argv[3]) if len(sys.argv) > 3 else 7
    every: list[Result] = []
    for slips in (False, True):
        for law in LAWS:
            results = [measure(law, k, seed, slips=slips, bounds=k < bounds_n) for k in range(harps_n)]
            show(f"{law}{', one slips' if slips else ''}", results)
            every += results
    for low, high in ((4, 5), (6, 7), (8, 10)):
        show(f"{low}-{high} surveys", [r for r in every if low <= r["surveys"] <= high])
    show("settled when surveyed", [r for r in every if not r["beyond"]])
    show("settled only later", [r for r in every if r["beyond"]])
    for low, high, name in ((-1, 4, "at most 4 days"), (4, 8, "4-8 days"), (8, np.inf, "wider, or without end")):
        show(f"says {name}", [r for r in every if low < r["said"] <= high])
    show("all", every)
    show("all, none slips", [r for r in every if "found" not in r])
    for law in UNSEEN:
        results = [measure(law, k, seed, slips=slips, bounds=False) for slips in (False, True) for k in range(harps_n)]
        show(f"unseen: {law}", results)
    print(f"CPU {np.mean([r['seconds'] for r in every]):.2f} s to a harp")


if __name__ == "__main__":
    main()
