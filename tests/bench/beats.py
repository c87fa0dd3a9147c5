"""Beats of synthetic strings: how well their rates are read, by rate and level of the weaker tone.

Run `python -m tests.bench.beats [DRAWS]` from the repository: DRAWS plucks (default 12) in each cell, fixed seeds, a
second a pluck. Strings of 60 to 700 Hz with the usual decays, the weaker tone's 1 to 1.3 times as long, a glide of up
to 4 cents, heard for 2.4 to 4 s over noise 35 to 50 dB below. Frequencies of partials are taken from the truth.

Every partial of the first six whose beat turns at least `FalseSettings.least_turns` times in what can be heard of it
counts as one that can be told. Columns: told of those; median and largest error in Hz, share beyond 0.05 Hz, share of
95 % intervals that hold the truth; and how many beats are told where there is none (last line: single tones).
"""

import sys

import numpy as np

from analyzer.bands import PluckBands
from analyzer.beating import find_beats, follow
from analyzer.recording import Samples
from analyzer.settings import Settings
from tests.synth import PLUCK_RMS, PluckSpec, pluck

SETTINGS = Settings().falseness
RATE_HZ = 22050
LEAD_N = 8000
RATES_HZ = (0.3, 0.5, 1.0, 2.0, 3.5, 5.0)
LEVELS_DB = (0.0, -6.0, -13.0, -20.0)


def drawn(rng: np.random.Generator, rate_hz: float, level_db: float):
    """(followed pluck, the truth of its partials) of one string whose first partial beats so."""
    f1_hz = float(np.exp(rng.uniform(np.log(60), np.log(700))))
    spec = PluckSpec(
        f1_hz=f1_hz,
        split_hz=rate_hz,
        second_db=level_db,
        second_decay_ratio=float(rng.uniform(1.0, 1.3)),
        glide_cents=float(rng.uniform(0, 4)),
        pluck_at=float(rng.uniform(0.22, 0.48)),
    )
    seconds = float(rng.uniform(2.4, 4.0))
    sound, truth = pluck(spec, seconds, RATE_HZ, rng)
    noise = PLUCK_RMS * 10 ** (-rng.uniform(35, 50) / 20)
    whole = np.concatenate([np.zeros(LEAD_N), sound]) + noise * rng.standard_normal(LEAD_N + len(sound))
    bands = PluckBands(Samples(whole.astype(np.float32), len(whole)), RATE_HZ, LEAD_N / RATE_HZ, seconds, 0.3)
    partials_hz = tuple(p.frequency_hz for p in truth.partials[: SETTINGS.partials])
    return follow(bands, partials_hz, seconds, SETTINGS), truth.partials


def cell(rate_hz: float, level_db: float, draws: int):
    """(beats that can be told, rows of (error in Hz, half-width of the interval) of those told)."""
    rng = np.random.default_rng([int(100 * rate_hz), int(-level_db)])
    plucks = [drawn(rng, rate_hz, level_db) for _ in range(draws)]
    possible, rows = 0, []
    for (followed, truths), found in zip(plucks, find_beats([f for f, _ in plucks], SETTINGS), strict=True):
        told = {b.number: b for b in found.beats}
        for number, course in zip(followed.numbers, followed.courses, strict=True):
            truth_hz = truths[number - 1].split_hz
            if truth_hz * (len(course.power) - 1) * course.step_s < SETTINGS.least_turns or truth_hz > course.most_hz:
                continue
            possible += 1
            if number in told:
                rows.append((told[number].rate_hz - truth_hz, told[number].rate_u95_hz))
    return possible, np.array(rows).reshape(-1, 2)


def line(name: str, possible: int, rows: np.ndarray) -> str:
    if len(rows) == 0:
        return f"{name:18s} | {0:3d}/{possible:3d}"
    error = np.abs(rows[:, 0])
    return (
        f"{name:18s} | {len(rows):3d}/{possible:3d} | {np.median(error):.3f} {error.max():.3f}"
        f" | {np.mean(error > 0.05):.3f} | {np.mean(error <= rows[:, 1]):.2f}"
    )


def main(draws: int) -> None:
    print(f"{'rate, level':18s} |    told | median max   | > 0.05 | covered")
    everything, total = [], 0
    for rate_hz in RATES_HZ:
        for level_db in LEVELS_DB:
            possible, rows = cell(rate_hz, level_db, draws)
            everything.append(rows)
            total += possible
            print(line(f"{rate_hz:.1f} Hz, {level_db:.0f} dB", possible, rows), flush=True)
    print(line("all", total, np.concatenate(everything)))
    rng = np.random.default_rng(7)
    single = [drawn(rng, 0.0, -np.inf)[0] for _ in range(4 * draws)]
    beats = sum(len(b.beats) for b in find_beats(single, SETTINGS))
    print(f"single tones: {beats} beats told of {sum(len(f.numbers) for f in single)} partials")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 12)
