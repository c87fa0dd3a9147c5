"""Dull strings of invented harps: how well raised damping is found, cell by cell, and whether decay intervals cover.

Run `python -m tests.bench.condition [HARPS]` from the repository: HARPS harps of 34 strings in each cell (default 4),
fixed seeds, some 4 s a harp, two processes. On every harp one string each has 1.3, 1.6, 2 and 3 times its own damping;
single partials of all strings scatter about their law by 0.4 in ln T60, as a soundboard makes them, and whole strings
by 0.08. Onsets are taken from the truth; pitch, decay, gain, room and judgement are the program's own. The box is a
room of another law than the program supposes (`synth_room`).

Columns: for each factor the area under the ROC curve over all strings of the cell and the recall at 5 % false alarms;
how many the program calls dull (all factors of 1.6 and more, and sound strings); decay_s: share of strings whose
interval covers the truth, and the median error. Last, over all cells, whether the stated probabilities are shares.
"""

import sys
from collections.abc import Mapping
from concurrent.futures import Executor, ProcessPoolExecutor
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from analyzer import decay, pitch
from analyzer.bands import PluckBands
from analyzer.condition import Heard, judge
from analyzer.dry import without_room
from analyzer.levelling import levelled
from analyzer.meters import Meters
from analyzer.recording import Samples
from analyzer.room import apart
from analyzer.settings import Settings
from analyzer.steadiness import with_usual
from tests.synth_harp import HarpSpec, HarpTake, harp_recording
from tests.synth_room import Box

SETTINGS = Settings()
RATE_HZ = 22050
PROCESSES = 2
FACTORS = (1.3, 1.6, 2.0, 3.0)
CLEAN = HarpSpec(rate_hz=RATE_HZ, glide_cents=(0.0, 0.0), uneven=0.4, room_t60_s=None)
CELLS: Mapping[str, HarpSpec] = {
    "clean": CLEAN,
    "strength ±10 dB": replace(CLEAN, strength_db=(-10.0, 10.0)),
    "plucked at 1/7-1/2": replace(CLEAN, pluck_at=(1 / 7, 0.5)),
    "section break": CLEAN,
    "room 0.3 s": replace(CLEAN, room_t60_s=0.3),
    "room 0.8 s": replace(CLEAN, room_t60_s=0.8),
    "box 0.5 s": replace(CLEAN, box=Box()),
    "phone": replace(CLEAN, room_t60_s=0.4, phone=True),
    "ringing": replace(CLEAN, room_t60_s=0.4, ringing=True, gap_s=(1.2, 1.9)),
}
STEP = 0.4
"""ln of the damping of wires over that of the rest in the cell with a section break."""


@dataclass(frozen=True)
class Judged:
    factor: float
    departure: float
    dull_probability: float
    decay_error: float | None
    """ln of decay_s over the truth."""
    covered: bool | None


def harp(cell: str, seed: int) -> list[Judged]:
    """One harp plucked through, heard and judged."""
    rng = np.random.default_rng([seed, list(CELLS).index(cell)])
    names = [name for name, _ in CLEAN.strings]
    dull = dict(zip((names[i] for i in rng.choice(len(names), len(FACTORS), replace=False)), FACTORS, strict=True))
    wires = int(rng.integers(8, 14))
    step = float(np.exp(rng.choice([-STEP, STEP]))) if cell == "section break" else 1.0
    damping = {name: dull.get(name, 1.0) * (step if i < wires else 1.0) for i, name in enumerate(names)}
    take = harp_recording(replace(CELLS[cell], dull=damping), rng)
    heard, factors, truths = [], [], []
    plucks = list(measured(take, rng))
    steady = with_usual([found for _, found, _ in plucks], SETTINGS.decay)
    room, own = apart([found.courses for _, found, _ in plucks], SETTINGS.room)
    for (string, _, truth_s), found, decays in zip(plucks, steady, own, strict=True):
        at = names.index(string)
        dry = found if room is None else without_room(found, decays, room, SETTINGS.room)
        heard.append(Heard(place=at, section="wire" if at < wires else "nylon", decay=dry))
        factors.append(dull.get(string, 1.0))
        truths.append(truth_s)
    rows = []
    for judged, h, factor, truth_s in zip(judge(tuple(heard), SETTINGS.condition), heard, factors, truths, strict=True):
        if judged.departure is None or judged.departure_u95 is None or judged.dull_probability is None:
            continue
        error = float(np.log(h.decay.decay_s / truth_s)) if h.decay.decay_s else None
        covered = abs(h.decay.decay_s - truth_s) <= h.decay.decay_u95_s if h.decay.decay_s else None
        rows.append(Judged(factor, judged.departure / judged.departure_u95, judged.dull_probability, error, covered))
    return rows


def measured(take: HarpTake, rng: np.random.Generator):
    """(string, its decay, true decay in s) of every pluck."""
    samples = take.samples.astype(np.float32)
    sound = Samples(samples, len(samples))
    onsets_s = [p.onset_s for p in take.plucks]
    ends_s = [*onsets_s[1:], len(samples) / RATE_HZ]
    meters = Meters(RATE_HZ, SETTINGS.recording)
    meters.take_analysis(samples)
    levels = meters.finish().levels
    level = levelled(sound, RATE_HZ, levels, onsets_s, ends_s, SETTINGS)
    for k, p in enumerate(take.plucks):
        span_s = min(ends_s[k] - p.onset_s, SETTINGS.decay.most_s)
        bands = PluckBands(level.sound, RATE_HZ, p.onset_s, span_s, 0.3)
        near_hz = p.note.f1_hz * 2 ** (rng.normal(0, 8) / 1200)
        found = pitch.measure(bands, near_hz, span_s, -0.3, None, SETTINGS.pitch)
        if found is None:
            continue
        at = {q.number: q.frequency_hz for q in found.partials}
        b, n = found.inharmonicity or 0.0, np.arange(1, SETTINGS.decay.partials + 1)
        law = found.pitch_hz * n * np.sqrt((1 + b * n**2) / (1 + b))
        partials_hz = tuple(at.get(int(i), float(f)) for i, f in zip(n, law, strict=True))
        partials_hz = tuple(f for f in partials_hz if f < SETTINGS.decay.highest_hz)
        open_s = min(span_s, level.ends_s[k] - p.onset_s)
        yield (
            p.string,
            decay.measure(bands, partials_hz, open_s, SETTINGS.decay, SETTINGS.room, level.doubts_db[k]),
            p.note.decay_s,
        )


def row(rows: list[Judged]) -> str:
    sound = np.array([r.departure for r in rows if r.factor == 1.0])
    limit = np.quantile(sound, 0.95)
    cells = []
    for factor in FACTORS:
        own = np.array([r.departure for r in rows if r.factor == factor])
        area = np.mean(own[:, None] > sound)
        cells.append(f"{area:.2f} {np.mean(own > limit):.2f}")
    call = SETTINGS.condition.call_dull
    dull = [r.dull_probability >= call for r in rows if r.factor >= 1.6]
    false = [r.dull_probability >= call for r in rows if r.factor == 1.0]
    errors = [abs(r.decay_error) for r in rows if r.decay_error is not None]
    covered = [r.covered for r in rows if r.covered is not None]
    return (
        " | ".join(cells)
        + f" | {sum(dull):2d}/{len(dull)} {sum(false):2d}/{len(false)}"
        + f" | {np.mean(covered):.2f} {np.median(errors):.3f}"
    )


def main(harps: int) -> None:
    with ProcessPoolExecutor(PROCESSES) as pool:
        table(pool, harps)


def table(pool: Executor, harps: int) -> None:
    print(f"{'cell':20s} |   x1.3    |   x1.6    |   x2.0    |   x3.0    | called      | decay_s")
    everything: list[Judged] = []
    for cell in CELLS:
        rows = [r for heard in pool.map(harp, [cell] * harps, range(harps)) for r in heard]
        everything += rows
        print(f"{cell:20s} | {row(rows)}", flush=True)
    print(f"{'all':20s} | {row(everything)}")
    print("\ncalled dull with a probability of: mean probability, share that is dull, strings")
    for line in reliability(everything):
        print(line)


def reliability(rows: list[Judged]) -> list[str]:
    """Whether stated probabilities are shares: by bins of the probability. A dull string has 1.3 times and more."""
    stated = np.array([r.dull_probability for r in rows])
    dull = np.array([r.factor > 1.0 for r in rows])
    edges = (0.0, 0.02, 0.05, 0.1, 0.2, 0.35, 0.5, 0.7, 0.9, 1.0)
    lines = []
    for low, high in pairwise(edges):
        inside = (stated >= low) & ((stated < high) | (high == 1.0))
        if inside.any():
            lines.append(
                f"{low:4.2f} to {high:4.2f} | {stated[inside].mean():.2f} {dull[inside].mean():.2f} {inside.sum():4d}"
            )
    return lines


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 4)
