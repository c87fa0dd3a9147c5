"""How many plucks are named right, on invented harps with a fixed seed, and how sure the reading is when it is wrong.

Run `python -m tests.bench.matching [--harps 1000] [--audio 100] [--taps 200] [--json FILE]` from the repository.
Harps are drawn over slackness × scatter (the cells of the first table, filled in turn), and at random over layout,
strings missing, an octave low, repeats, slips, noise, phone, knocks and phrases of speech. Evidence is simulated
(`tests.bench.invented`); with --audio so many whole recordings are synthesised as well (`tests.synth_harp`) and heard
by the real stages. Each harp is read with the missing strings told and not told, and beside that:

- `bound`: the same model given every true pitch and what is no string, which no listener can surpass;
- `nearest`: each pluck named after the target nearest to its likeliest pitch;
- `count`: plucks counted off along the strings from the right end (told: along those that are there).

With --taps, so many of the harps are plucked again by somebody who taps for the missing strings.

A pluck is right when the likeliest reading is its string; listed when its string has the tables' 5 % or more; sure but
wrong with 90 % or more on another. Every event counts in the reliability table, "no string" like any other reading.
"""

import argparse
import json
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field, replace
from itertools import pairwise
from pathlib import Path

import numpy as np
from joblib import Parallel, delayed

from analyzer.evidence import Evidence, in_company, weigh
from analyzer.matching import Known, match
from analyzer.plucks import find_plucks
from analyzer.recording import Samples
from analyzer.settings import MatchSettings, Settings
from analyzer.tuning import Target
from tests.bench.invented import Event, Grid, Invented, invent, targets_of, true_pitches
from tests.synth_harp import HarpSpec, harp_recording

SEED = 20260301
SLACK_CENTS = (0.0, -100.0, -200.0, -400.0, -700.0)
SCATTER_CENTS = (0.0, 20.0, 40.0, 60.0)
NOISE_DB = (20.0, 27.0, 35.0, 50.0)
LAYOUTS = ("lever-27-C3-A6", "lever-34-C2-A6", "lever-34-C2-A6", "pedal-47-C1-G7")
SURE, LISTED = 0.9, 0.05
BINS = (0.0, 0.3, 0.5, 0.7, 0.9, 0.97, 0.995, 1.0001)
FACTORS = ("layout", "slack_cents", "scatter_cents", "missing", "octave_low", "repeats", "slips", "noise_db", "phone")
METHODS = ("told", "told bound", "untold", "untold bound", "told count", "untold count", "nearest")


@dataclass
class Outcome:
    """One harp, all methods."""

    grid: dict[str, float | int | str | bool]
    counts: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    reliability: dict[str, list[tuple[float, bool]]] = field(default_factory=lambda: defaultdict(list))
    seconds: list[tuple[int, float]] = field(default_factory=list)


def draw(index: int) -> Grid:
    """The grid's point of harp `index`; cells of slackness and scatter in turn."""
    rng = np.random.default_rng((SEED, index, 0))
    return Grid(
        layout=str(rng.choice(LAYOUTS)),
        slack_cents=SLACK_CENTS[index % len(SLACK_CENTS)],
        scatter_cents=SCATTER_CENTS[index // len(SLACK_CENTS) % len(SCATTER_CENTS)],
        missing=int(rng.integers(0, 9)),
        octave_low=int(rng.integers(0, 4)),
        repeats=int(rng.integers(0, 6)),
        slips=int(rng.integers(0, 4)),
        noise_db=float(rng.choice(NOISE_DB)),
        phone=bool(rng.integers(2)),
        knocks=int(rng.integers(0, 3)),
        phrases=int(rng.integers(0, 2)),
    )


def simulated(index: int, *, taps: bool = False) -> Outcome:
    return judge(invent(replace(draw(index), taps=taps), np.random.default_rng((SEED, index, 1))))


def judge(harp: Invented) -> Outcome:
    """All methods on one harp."""
    truth = np.array([len(harp.targets) if e.string is None else e.string for e in harp.events])
    out = Outcome(grid=asdict(harp.grid))
    sure_pitches = true_pitches(harp)
    for name, known in (("told", Known(missing=harp.missing)), ("untold", Known())):
        for method, evidence in ((name, harp.evidence), (f"{name} bound", sure_pitches)):
            start = time.process_time()
            found = match(evidence, harp.targets, known, MatchSettings()).probabilities
            out.seconds.append((len(harp.targets), time.process_time() - start))
            _count(out, method, found, truth)
        there = [k for k, t in enumerate(harp.targets) if name == "untold" or t.string not in harp.missing]
        _count(out, f"{name} count", _counted(harp, there), truth)
    _count(out, "nearest", _nearest(harp.evidence, harp.targets), truth)
    return out


def _count(out: Outcome, method: str, found: np.ndarray, truth: np.ndarray) -> None:
    none, here = found.shape[1] - 1, np.arange(len(truth))
    best, confidence = found.argmax(axis=1), found.max(axis=1)
    string, right = truth < none, best == truth
    listed = (found[:, :none] >= LISTED).sum(axis=1)
    out.counts[method].update(
        {
            "plucks": int(string.sum()),
            "right": int(right[string].sum()),
            "covered": int((right | (found[here, truth] >= LISTED))[string].sum()),
            "listed": int(np.maximum(listed, 1)[string].sum()),
            "sure but wrong": int((~right & (confidence >= SURE))[string].sum()),
            "others": int((~string).sum()),
            "spurious": int((~right & ~string).sum()),
            "harps": 1,
            "harps all right": int(right[string].all()),
        }
    )
    out.reliability[method] += list(zip(confidence.round(4).tolist(), right.tolist(), strict=True))


def _nearest(evidence: Iterable[Evidence], targets: tuple[Target, ...]) -> np.ndarray:
    cents = np.log2([t.target_hz for t in targets])
    found = [
        int(np.abs(cents - np.log2(e.pitches_hz[0])).argmin())
        if e.pitches_hz and e.string_log_odds > 0
        else len(targets)
        for e in evidence
    ]
    return np.eye(len(targets) + 1)[found]


def _counted(harp: Invented, there: list[int]) -> np.ndarray:
    row = there[::-1] if harp.down else there
    found, at = [], 0
    for e in harp.evidence:
        is_string = e.string_log_odds > 0 and at < len(row)
        found.append(row[at] if is_string else len(harp.targets))
        at += is_string
    return np.eye(len(harp.targets) + 1)[found]


def heard(index: int) -> tuple[Outcome, Counter[str]]:
    """A whole recording: synthesised, its plucks found and weighed by the real stages. And what was found."""
    grid, settings, rate_hz = draw(index), Settings(), 22050
    rng = np.random.default_rng((SEED, index, 2))
    targets = targets_of(grid.layout)
    names = [t.string for t in targets]
    picked = [str(n) for n in rng.choice(names, grid.missing + grid.octave_low, replace=False)]
    spec = HarpSpec(
        strings=tuple((t.string, t.target_hz) for t in targets),
        slack_cents=grid.slack_cents,
        scatter_cents=grid.scatter_cents,
        missing=tuple(picked[: grid.missing]),
        octave_low=tuple(picked[grid.missing :]),
        order="down" if rng.random() < 0.3 else "up",
        gap_s=(1.4, 2.2),
        repeats=grid.repeats,
        slips=grid.slips // 2,
        late=grid.slips - grid.slips // 2,
        rate_hz=rate_hz,
        snr_db=grid.noise_db,
        phone=grid.phone,
        knocks=grid.knocks,
        speech=grid.phrases,
        ringing=bool(rng.random() < 0.2),
    )
    take = harp_recording(spec, rng)
    sound = Samples(take.samples.astype(np.float32), len(take.samples))
    plucks = find_plucks(sound, rate_hz, settings.plucks)
    evidence = in_company(plucks, tuple(weigh(sound, rate_hz, p, settings.evidence) for p in plucks), settings.evidence)
    onsets = np.array([p.onset_s for p in plucks])
    truths: dict[int, tuple[str, float]] = {}
    for p in take.plucks:
        if p.kind != "double" and len(onsets) and abs(onsets - p.onset_s).min() < 0.12:
            truths[int(abs(onsets - p.onset_s).argmin())] = (p.string, p.note.pitch_hz)
    events = tuple(
        Event(kind="pluck", string=names.index(truths[k][0]), pitch_hz=truths[k][1])
        if k in truths
        else Event(kind="voice", string=None, pitch_hz=None)
        for k in range(len(plucks))
    )
    harp = Invented(
        grid=grid,
        targets=targets,
        missing=frozenset(spec.missing),
        down=spec.order == "down",
        cents=np.zeros(len(targets)),
        events=events,
        evidence=evidence,
    )
    played = sum(p.kind != "double" for p in take.plucks)
    return judge(harp), Counter({f"played {grid.noise_db:g}": played, f"found {grid.noise_db:g}": len(truths)})


def table(outcomes: list[Outcome]) -> str:
    """Markdown of everything."""
    parts = [_methods(outcomes), _cells(outcomes, "told"), _cells(outcomes, "untold"), _cells(outcomes, "nearest")]
    parts += [_by_factor(outcomes), _reliability(outcomes), _times(outcomes)]
    return "\n".join(parts)


def _sum(outcomes: Iterable[Outcome], method: str) -> Counter[str]:
    return sum((o.counts[method] for o in outcomes), Counter())


def _share(counts: Counter[str], what: str = "right") -> str:
    return f"{100 * counts[what] / max(counts['plucks'], 1):.2f}"


def _methods(outcomes: list[Outcome]) -> str:
    rows = [
        "| method | right % | right or listed % | listed on average | sure but wrong % | spurious | harps all right |"
    ]
    rows.append("| --- |" + " ---: |" * 6)
    for method in METHODS:
        c = _sum(outcomes, method)
        rows.append(
            f"| {method} | {_share(c)} | {_share(c, 'covered')} | {c['listed'] / max(c['plucks'], 1):.2f} |"
            f" {_share(c, 'sure but wrong')} | {c['spurious']} of {c['others']} |"
            f" {c['harps all right']} of {c['harps']} |"
        )
    return f"{_sum(outcomes, 'told')['plucks']} plucks\n\n" + "\n".join(rows) + "\n"


def _cells(outcomes: list[Outcome], method: str) -> str:
    rows = [f"Named right %, {method}: slackness × scatter, cents\n"]
    rows.append("| | " + " | ".join(f"{s:.0f}" for s in SCATTER_CENTS) + " |\n| --- |" + " ---: |" * len(SCATTER_CENTS))
    for slack in SLACK_CENTS:
        here = [
            _sum((o for o in outcomes if (o.grid["slack_cents"], o.grid["scatter_cents"]) == (slack, s)), method)
            for s in SCATTER_CENTS
        ]
        rows.append(f"| {slack:.0f} | " + " | ".join(_share(c) for c in here) + " |")
    return "\n".join(rows) + "\n"


def _by_factor(outcomes: list[Outcome]) -> str:
    rows = [
        "| | plucks | told | told bound | untold | untold bound | told count | nearest |",
        "| --- |" + " ---: |" * 7,
    ]
    for factor in FACTORS:
        for value in sorted({o.grid[factor] for o in outcomes}, key=lambda v: (str(type(v)), v)):
            some = [o for o in outcomes if o.grid[factor] == value]
            counts = {m: _sum(some, m) for m in METHODS}
            rows.append(
                f"| {factor} {value} | {counts['told']['plucks']} | "
                + " | ".join(
                    _share(counts[m]) for m in ("told", "told bound", "untold", "untold bound", "told count", "nearest")
                )
                + " |"
            )
    return "\n".join(rows) + "\n"


def _reliability(outcomes: list[Outcome]) -> str:
    rows = ["| method | confidence | events | mean confidence % | right % |", "| --- | --- | ---: | ---: | ---: |"]
    for method in ("told", "untold", "told bound", "untold bound"):
        pairs = np.array([p for o in outcomes for p in o.reliability[method]], dtype=float)
        for low, high in pairwise(BINS):
            some = pairs[(pairs[:, 0] >= low) & (pairs[:, 0] < high)]
            if len(some):
                mean, right = 100 * some.mean(axis=0)
                rows.append(f"| {method} | {low:g} to {min(high, 1):g} | {len(some)} | {mean:.1f} | {right:.1f} |")
    return "\n".join(rows) + "\n"


def _times(outcomes: list[Outcome]) -> str:
    longest = max(n for o in outcomes for n, _ in o.seconds)
    took = np.array([s for o in outcomes for n, s in o.seconds if n == longest])
    return f"Matching, {longest} strings: median {np.median(took):.3f} s, 95 % {np.percentile(took, 95):.3f} s of CPU\n"


def main(words: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--harps", type=int, default=1000)
    parser.add_argument("--audio", type=int, default=0, help="whole recordings")
    parser.add_argument("--taps", type=int, default=0, help="harps whose missing strings are tapped for")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--json", type=Path, help="every outcome")
    said = parser.parse_args(words)
    run = Parallel(n_jobs=said.jobs, batch_size=4)
    outcomes = run(delayed(simulated)(i) for i in range(said.harps))
    if outcomes:
        sys.stdout.write(f"## {said.harps} harps, simulated evidence\n\n{table(outcomes)}\n")
        sys.stdout.flush()
    tapped = run(delayed(simulated)(i, taps=True) for i in range(said.taps))
    if tapped:
        sys.stdout.write(f"## {said.taps} of them, the missing strings tapped for\n\n{_methods(tapped)}\n")
        sys.stdout.flush()
    recordings = run(delayed(heard)(i) for i in range(said.audio))
    if recordings:
        found = sum((f for _, f in recordings), Counter())
        share = ", ".join(
            f"{n:g} dB {100 * found[f'found {n:g}'] / max(found[f'played {n:g}'], 1):.1f} %" for n in NOISE_DB
        )
        sys.stdout.write(f"## {said.audio} whole recordings\n\nPlucks found, by noise: {share}\n")
        sys.stdout.write(f"Shares below are of the plucks found.\n\n{table([o for o, _ in recordings])}\n")
    if said.json:
        kept = [{"grid": o.grid, "counts": o.counts} for o in (*outcomes, *(o for o, _ in recordings))]
        said.json.write_text(json.dumps(kept), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
