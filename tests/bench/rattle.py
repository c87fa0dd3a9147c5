"""Rattles and buzzes: how many are found, cell by cell, and how many clean strings are called.

Run `python -m tests.bench.rattle [STRINGS]` from the repository: STRINGS plucks in each cell (default 30), G1 to C5,
fixed seeds. Buzzing strings strike an obstacle near their end or shake a loose part (`tests.synth_buzz`) by a random
amount, so that some buzz hardly at all. Clean ones beat a little and have uneven partials; in one row a hand damps
them, in one they beat as false strings do. Pitches are the truth, off by a few cents. With npm at hand, the last rows
are the false alarms on a concert harp's notes.
"""

import sys
from pathlib import Path

import numpy as np

from analyzer.rattle import Rattle, find_rattle
from analyzer.recording import Samples
from analyzer.settings import Settings
from tests.harp_notes import RATE_HZ as NOTES_RATE_HZ
from tests.harp_notes import TARGETS_HZ, NotesUnavailableError, assemble, load_notes
from tests.synth import PLUCK_RMS, PluckSpec, pluck
from tests.synth_buzz import shaking, striking
from tests.synth_sounds import background_noise, in_room, phone_channel

SETTINGS = Settings().rattle
RATE_HZ = 22050
ROOMS = {"dry": None, "room 0.4 s": 0.4, "room 0.8 s": 0.8, "phone": 0.4}
KINDS = ("clean", "damped by hand", "false", "strikes", "shakes")
SECONDS, LEAD_S = 2.4, 0.5


def one(kind: str, cell: str, seed: int) -> Rattle | None:
    """One pluck, heard."""
    rng = np.random.default_rng([seed, list(ROOMS).index(cell)])
    f1_hz = float(np.exp(rng.uniform(np.log(49), np.log(523))))
    spec = PluckSpec(
        f1_hz=f1_hz,
        pluck_at=rng.uniform(0.22, 0.48),
        pluck_width=rng.uniform(0.012, 0.03),
        split_hz=f1_hz * (2 ** (rng.uniform(*((4, 12) if kind == "false" else (0, 2))) / 1200) - 1),
        second_db=-4.0 if kind == "false" else rng.uniform(-20, -8),
        uneven=tuple(0.4 * rng.standard_normal(30)),
        glide_cents=rng.uniform(0, 4),
    )
    if kind == "strikes":
        sound = striking(spec, rng.uniform(0.05, 0.3), SECONDS, RATE_HZ)
    else:
        sound, _ = pluck(spec, SECONDS, RATE_HZ, rng)
    if kind == "shakes":
        sound = shaking(sound, f1_hz, RATE_HZ, rng, rng.uniform(0.15, 0.6), rng.uniform(-36, -22))
    if kind == "damped by hand":
        late_s = np.arange(sound.size) / RATE_HZ - rng.uniform(0.3, 1.5)
        sound = sound * np.exp(-np.maximum(late_s, 0) / rng.uniform(0.02, 0.1))
    return heard(
        np.concatenate([np.zeros(int(LEAD_S * RATE_HZ)), sound]), f1_hz * 2 ** (rng.normal(0, 3) / 1200), cell, rng
    )


def heard(sound: np.ndarray, f1_hz: float, cell: str, rng: np.random.Generator) -> Rattle | None:
    room_s = ROOMS[cell]
    if room_s is not None:
        sound = in_room(sound, room_s, RATE_HZ, rng)
    sound = sound + PLUCK_RMS * 10 ** (-45 / 20) * background_noise(sound.size, rng)
    if cell == "phone":
        sound = phone_channel(sound, RATE_HZ, highpass_hz=180.0, gain_control=True)
    samples = Samples(sound.astype(np.float32), len(sound))
    return find_rattle(samples, RATE_HZ, LEAD_S, SECONDS, f1_hz, SETTINGS)


def row(found: list[Rattle | None]) -> str:
    looked = [r for r in found if r is not None]
    called = [r for r in looked if r.heard(SETTINGS)]
    held = np.array([r.held_db for r in looked]) if looked else np.zeros(1)
    return (
        f"{len(called):3d} of {len(found):3d} called, {len(looked):3d} looked at;"
        f" held {np.median(held):4.1f}, most {held.max():4.1f} dB"
    )


def concert_notes() -> None:
    import soxr

    try:
        notes = load_notes(Path.home() / ".cache" / "harp-notes")
    except NotesUnavailableError as error:
        print(f"concert harp: {error}")
        return
    for snr_db in (50, 60, 70):
        take = assemble(notes, np.random.default_rng(snr_db), snr_db=snr_db)
        sound = soxr.resample(take.samples, NOTES_RATE_HZ, RATE_HZ).astype(np.float32)
        samples = Samples(sound, len(sound))
        ends_s = [*(p.onset_s for p in take.plucks[1:]), len(sound) / RATE_HZ]
        found = [
            find_rattle(samples, RATE_HZ, p.onset_s, end_s - p.onset_s, TARGETS_HZ[p.string], SETTINGS)
            for p, end_s in zip(take.plucks, ends_s, strict=True)
        ]
        print(f"{'concert harp':12s} {f'noise at -{snr_db} dB':22s} {row(found)}")


def main(strings: int) -> None:
    for cell in ROOMS:
        for kind in KINDS:
            print(f"{cell:12s} {kind:22s} {row([one(kind, cell, seed) for seed in range(strings)])}", flush=True)
    concert_notes()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 30)
