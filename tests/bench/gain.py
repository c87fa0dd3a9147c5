"""Sound harps through recorders that turn their gain up, or gate: strings called dull, and decays, with it undone.

Run `python -m tests.bench.gain [HARPS]` from the repository: HARPS harps of 34 sound strings (default 4) for each law
of gain, plucked ±10 dB, in a room of 0.4 s, through a phone's filter and AAC; fixed seeds, 3 s a harp. The gain falls
within some 30 ms and rises at a given rate up to a given limit. The gate turns down by half a dB for each dB that the
sound is below a level, by 12 dB at most; the slow one by 1 dB, by 15 dB at most, at 40 dB a second; the one that closes
does so 0.1 s after the sound has fallen below the level, at 400 dB a second.

Columns: strings called dull and to be checked; median error of ln decay_s and its bias, share of 95 % intervals that
hold the truth; by how much more a string seems damped (ln) that was plucked 10 dB louder.
"""

import sys
from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
from scipy.ndimage import median_filter

from analyzer.condition import Heard, judge
from analyzer.dry import without_room
from analyzer.room import apart
from analyzer.steadiness import with_usual
from tests import synth_sounds
from tests.bench.condition import CLEAN, RATE_HZ, SETTINGS, measured
from tests.synth_harp import harp_recording

SPEC = replace(CLEAN, room_t60_s=0.4, strength_db=(-10.0, 10.0))
WIRES = 10
BLOCK_S = 0.01


def turned_db(level_db: np.ndarray, up_db_per_s: float, most_db: float = 15.0) -> np.ndarray:
    """A level control, block by block: towards an RMS of 0.1, never by more than `most_db`."""
    gains_db, gain_db = np.empty(level_db.size), 0.0
    for i, wish_db in enumerate(np.clip(-20 - level_db, -most_db, most_db)):
        down = wish_db < gain_db
        gain_db += max(0.3 * (wish_db - gain_db), -6.0) if down else min(wish_db - gain_db, up_db_per_s * BLOCK_S)
        gains_db[i] = gain_db
    return gains_db


def gated_db(
    level_db: np.ndarray,
    below_db: float,
    ratio: float = 1.5,
    most_db: float = 12.0,
    hold_s: float = 0.0,
    down_db_per_s: float = 1e3,
) -> np.ndarray:
    """A gate: open at once, down by `ratio` - 1 dB for each dB below a level, after a time and no faster than given."""
    gains_db, gain_db, held_s = np.empty(level_db.size), 0.0, hold_s
    for i, wish_db in enumerate(np.clip((ratio - 1) * (level_db - below_db), -most_db, 0)):
        held_s = hold_s if wish_db >= gain_db else held_s - BLOCK_S
        if wish_db >= gain_db or held_s < 0:
            gain_db = max(wish_db, gain_db - down_db_per_s * BLOCK_S)
        gains_db[i] = gain_db
    return gains_db


LAWS: Mapping[str, Callable[[np.ndarray], np.ndarray]] = {
    "fixed": np.zeros_like,
    "up 3 dB/s": lambda level_db: turned_db(level_db, 3.0),
    "up 8 dB/s": lambda level_db: turned_db(level_db, 8.0),
    "up 20 dB/s": lambda level_db: turned_db(level_db, 20.0),
    "up 40 dB/s, by 25 dB": lambda level_db: turned_db(level_db, 40.0, most_db=25.0),
    "up 8 dB/s, gate": lambda level_db: turned_db(level_db, 8.0) + gated_db(level_db, -45.0),
    "gate": lambda level_db: gated_db(level_db, -45.0),
    "gate 2:1, slow": lambda level_db: gated_db(level_db, -40.0, 2.0, 15.0, hold_s=0.05, down_db_per_s=40.0),
    "gate that closes": lambda level_db: gated_db(level_db, -45.0, 20.0, 60.0, hold_s=0.1, down_db_per_s=400.0),
}


def recorded(samples: np.ndarray, law: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
    """The sound under a gain that follows its level."""
    block_n = int(BLOCK_S * RATE_HZ)
    padded = np.pad(samples, (0, -samples.size % block_n))
    level_db = 20 * np.log10(np.sqrt(np.mean(padded.reshape(-1, block_n) ** 2, axis=1)) + 1e-6)
    middles_n = (np.arange(level_db.size) + 0.5) * block_n
    return samples * 10 ** (np.interp(np.arange(samples.size), middles_n, law(level_db)) / 20)


def harp(law: str, seed: int) -> list[tuple[float, float, float, float | None, bool]]:
    """(departure, dull probability, dB louder than its neighbours, error of ln decay_s, covered) of each string."""
    rng = np.random.default_rng([seed, 77])
    take = harp_recording(SPEC, rng)
    filtered = synth_sounds.phone_channel(take.samples, RATE_HZ, gain_control=False, codec=False)
    heard = np.clip(recorded(filtered, LAWS[law]), -1.0, 1.0)
    coded = synth_sounds.aac_decoded(synth_sounds.aac_file(heard, RATE_HZ))
    plucks = list(measured(take._replace(samples=coded[: take.samples.size]), rng))
    steady = with_usual([found for _, found, _ in plucks], SETTINGS.decay)
    room, own = apart([found.courses for _, found, _ in plucks], SETTINGS.room)
    names = [name for name, _ in SPEC.strings]
    strings = []
    for (name, _, _), found, decays in zip(plucks, steady, own, strict=True):
        dry = found if room is None else without_room(found, decays, room, SETTINGS.room)
        place = names.index(name)
        strings.append(Heard(place=place, section="wire" if place < WIRES else "nylon", decay=dry))
    loud_db = np.array([h.decay.level_db or 0.0 for h in strings])
    loud_db -= median_filter(loud_db, 9)
    rows = []
    judged = judge(tuple(strings), SETTINGS.condition)
    for h, (_, _, truth_s), j, louder_db in zip(strings, plucks, judged, loud_db.tolist(), strict=True):
        if j.departure is None or j.dull_probability is None:
            continue
        decay_s, u95_s = h.decay.decay_s, h.decay.decay_u95_s
        error = float(np.log(decay_s / truth_s)) if decay_s else None
        covered = decay_s is not None and u95_s is not None and abs(decay_s - truth_s) <= u95_s
        rows.append((j.departure, j.dull_probability, louder_db, error, covered))
    return rows


def main(harps: int) -> None:
    print(f"{'gain':20s} | dull, check of    | error bias   cov | per 10 dB")
    for law in LAWS:
        rows = [row for seed in range(harps) for row in harp(law, seed)]
        departure, probability, loud_db = np.array([row[:3] for row in rows]).T
        s = SETTINGS.condition
        dull, check = (int(np.sum(probability >= limit)) for limit in (s.call_dull, s.check_dull))
        errors = np.array([row[3] for row in rows if row[3] is not None])
        covered = np.mean([row[4] for row in rows if row[3] is not None])
        slope = 10 * np.polyfit(loud_db, departure, 1)[0]
        print(
            f"{law:20s} | {dull:3d} {check:3d} of {len(rows):4d}  | {np.median(np.abs(errors)):.3f}"
            f" {np.median(errors):+.3f} {covered:.2f} | {slope:+.3f}",
            flush=True,
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 4)
