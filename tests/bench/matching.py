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
The table by kind says which plucks go wrong: late ones, those beside them, repeats and so on.
"""

import argparse
import json
import sys
import time
from collections import Counter
from collections.abc import Iterable
from dataclasses import asdict, replace
from pathlib import Path
from typing import cast

import numpy as np
from joblib import Parallel, delayed

from analyzer.evidence import Evidence, in_company, weigh
from analyzer.matching import Known, match
from analyzer.plucks import find_onsets
from analyzer.recording import Samples
from analyzer.settings import MatchSettings, Settings
from analyzer.tuning import Target
from tests.bench.invented import KINDS, Event, Grid, Invented, invent, targets_of, true_pitches
from tests.bench.matching_tables import SCATTER_CENTS, SLACK_CENTS, Outcome, methods_table, table
from tests.synth_harp import HarpSpec, PluckTruth, harp_recording

SEED = 20260301
NOISE_DB = (20.0, 27.0, 35.0, 50.0)
LAYOUTS = ("lever-27-C3-A6", "lever-34-C2-A6", "lever-34-C2-A6", "pedal-47-C1-G7")
SURE, LISTED = 0.9, 0.05
BESIDE = {"late": 4, "repeat": 2, "slip": 2}
"""Events on either side of one of these that it may mislead."""


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
    out = Outcome(grid=asdict(harp.grid), late=any(e.kind == "late" for e in harp.events))
    kinds = _kinds(harp)
    sure_pitches = true_pitches(harp)
    for name, known in (("told", Known(missing=harp.missing)), ("untold", Known())):
        for method, evidence in ((name, harp.evidence), (f"{name} bound", sure_pitches)):
            start = time.process_time()
            found = match(evidence, harp.targets, known, MatchSettings()).probabilities
            out.seconds.append((len(harp.targets), time.process_time() - start))
            _count(out, method, found, truth)
            for kind, is_wrong in zip(kinds, found.argmax(axis=1) != truth, strict=True):
                out.kinds[method][kind] += 1
                out.wrong[method][kind] += int(is_wrong)
        there = [k for k, t in enumerate(harp.targets) if name == "untold" or t.string not in harp.missing]
        _count(out, f"{name} count", _counted(harp, there), truth)
    _count(out, "nearest", _nearest(harp.evidence, harp.targets), truth)
    return out


def _kinds(harp: Invented) -> list[str]:
    """What kind of pluck each event is, or that it is none."""
    kinds: list[str] = [e.kind for e in harp.events]
    out = []
    for t, e in enumerate(harp.events):
        beside = [k for k, n in BESIDE.items() if k in kinds[max(0, t - n) : t + n + 1]]
        if e.string is None or e.pitch_hz is None:
            out.append("no string")
        elif e.kind != "pluck":
            out.append(e.kind)
        elif 1200 * np.log2(e.pitch_hz / harp.targets[e.string].target_hz) < harp.grid.slack_cents - 700:
            out.append("an octave low")
        else:
            out.append(f"beside a {beside[0]}" if beside else "any other")
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
    late = int(rng.binomial(grid.slips, 0.5))
    spec = HarpSpec(
        strings=tuple((t.string, t.target_hz) for t in targets),
        slack_cents=grid.slack_cents,
        scatter_cents=grid.scatter_cents,
        missing=tuple(picked[: grid.missing]),
        octave_low=tuple(picked[grid.missing :]),
        order="down" if rng.random() < 0.3 else "up",
        gap_s=(1.4, 2.2),
        repeats=grid.repeats,
        slips=grid.slips - late,
        late=late,
        rate_hz=rate_hz,
        snr_db=grid.noise_db,
        phone=grid.phone,
        knocks=grid.knocks,
        speech=grid.phrases,
        ringing=bool(rng.random() < 0.2),
    )
    take = harp_recording(spec, rng)
    sound = Samples(take.samples.astype(np.float32), len(take.samples))
    plucks = find_onsets(sound, rate_hz, settings.plucks).plucks
    evidence = in_company(plucks, tuple(weigh(sound, rate_hz, p, settings.evidence) for p in plucks), settings.evidence)
    onsets = np.array([p.onset_s for p in plucks])
    truths: dict[int, PluckTruth] = {}
    for p in take.plucks:
        if p.kind != "double" and len(onsets) and abs(onsets - p.onset_s).min() < 0.12:
            truths[int(abs(onsets - p.onset_s).argmin())] = p
    events = tuple(
        Event(kind=cast(KINDS, truths[k].kind), string=names.index(truths[k].string), pitch_hz=truths[k].note.pitch_hz)
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
        sys.stdout.write(f"## {said.taps} of them, the missing strings tapped for\n\n{methods_table(tapped)}\n")
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
