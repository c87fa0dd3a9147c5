"""Beats of synthetic strings: how well their rates are read, by rate and level of the weaker tone.

Run `python -m tests.bench.beats [DRAWS]` from the repository: DRAWS plucks (default 12) in each cell, fixed seeds, a
quarter of a minute. Strings of 60 to 700 Hz with the usual decays, the weaker tone's 1 to 1.3 times as long, a glide
of up to 4 cents, heard for 2.4 to 4 s over noise 35 to 50 dB below. Frequencies of partials are taken from the truth.

Every partial of the first six whose beat turns at least `FalseSettings.least_turns` times in what can be heard of it
counts as one that can be told. Columns: told of those; median and largest error in Hz, share beyond 0.05 Hz, share of
95 % intervals that hold the truth; and how many beats are told where there is none (single tones).

The second table has 60 to 700 Hz strings that beat by other laws than the fit supposes (`LAWS`): each tone with a decay
of its own, planes that exchange their energy, a depth that swells and ebbs, a third tone, splits that scatter about
their proportion to the frequency or have nothing to do with it; or that are heard badly.
"""

import sys
from collections.abc import Sequence

import numpy as np

from analyzer import gain
from analyzer.bands import PluckBands
from analyzer.beating import Followed, find_beats, follow
from analyzer.meters import Meters
from analyzer.plucks import Sound
from analyzer.recording import Samples
from analyzer.schroeder import NEPERS_60
from analyzer.settings import Settings
from tests.synth import PLUCK_RMS, PluckSpec, modal_sum, pluck, usual_t60_s
from tests.synth_sounds import phone_channel

SETTINGS = Settings().falseness
RATE_HZ = 22050
LEAD_N = 8000
RATES_HZ = (0.3, 0.5, 1.0, 2.0, 3.5, 5.0)
LEVELS_DB = (0.0, -6.0, -13.0, -20.0)


def drawn(rng: np.random.Generator, rate_hz: float, level_db: float) -> tuple[Followed, np.ndarray]:
    """(followed pluck, true rates in Hz of its partials) of one string whose first partial beats so."""
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
    return follow(bands, partials_hz, seconds, SETTINGS), np.array([p.split_hz for p in truth.partials])


def counted(plucks: Sequence[tuple[Followed, np.ndarray]]) -> tuple[int, np.ndarray]:
    """(beats that can be told, rows of (error in Hz, half-width of the interval) of those told)."""
    possible, rows = 0, []
    for (followed, truths_hz), found in zip(plucks, find_beats([f for f, _ in plucks], SETTINGS), strict=True):
        told = {b.number: b for b in found.beats}
        for number, course in zip(followed.numbers, followed.courses, strict=True):
            truth_hz = truths_hz[number - 1]
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


def of_other_laws(law: str, rng: np.random.Generator) -> tuple[Followed, np.ndarray]:
    """(followed pluck, true rates in Hz, shape (6,)) of one string that beats otherwise than the fit supposes."""
    f1_hz, n = float(np.exp(rng.uniform(np.log(60), np.log(700)))), np.arange(1, 7)
    hz = n * f1_hz * np.sqrt(1 + 1e-4 * n**2)
    fall = NEPERS_60 / 2 / usual_t60_s(f1_hz) * n**0.6 * np.exp(0.2 * rng.standard_normal(6))
    rates_hz = float(np.exp(rng.uniform(np.log(0.3), np.log(3.0)))) * hz / hz[0]
    level_db, other_fall = rng.uniform(-20, 0), fall / rng.uniform(1.0, 1.3)
    phase = rng.uniform(0, 2 * np.pi, 6)
    if law == "decays apart":
        other_fall = fall / np.exp(rng.uniform(np.log(0.6), np.log(3), 6))
    elif law == "planes exchange":
        level_db, phase, other_fall = 0.0, np.full(6, np.pi), fall / rng.uniform(1.0, 1.5, 6)
    elif law == "splits scatter 7 %":
        rates_hz = rates_hz * np.exp(0.07 * rng.standard_normal(6))
    elif law == "splits unrelated":
        rates_hz = rates_hz * np.exp(0.7 * rng.standard_normal(6))
    elif law == "alike in Hz":
        rates_hz = np.full(6, rates_hz[0])
    first = 1 / n * np.exp(2j * np.pi * rng.uniform(0, 1, 6))
    other = first * 10 ** (level_db / 20) * np.exp(1j * phase)
    falls, freqs, amps = [fall, other_fall], [hz, hz + rates_hz], [first, other]
    if law == "depth changes":
        # The weaker tone swells and ebbs once in some 3 s: a pair of side tones to it.
        for side_hz in (-1 / 3, 1 / 3):
            falls, freqs, amps = [*falls, other_fall], [*freqs, hz + rates_hz + side_hz], [*amps, 0.25 * other]
    if law == "a third tone":
        falls, freqs, amps = [*falls, fall], [*freqs, hz - 0.37 * rates_hz], [*amps, 0.2 * other]
    seconds = float(rng.uniform(2.4, 4.0))
    sound = modal_sum(
        np.concatenate(falls), np.concatenate(freqs), np.concatenate(amps), int(seconds * RATE_HZ), RATE_HZ
    )
    sound *= PLUCK_RMS / np.sqrt(np.mean(sound[:2000] ** 2))
    snr_db = 30.0 if law == "noise 30 dB below" else rng.uniform(35, 50)
    whole = np.concatenate([np.zeros(LEAD_N), sound])
    whole += PLUCK_RMS * 10 ** (-snr_db / 20) * rng.standard_normal(len(whole))
    if law == "phone, AAC":
        whole = phone_channel(whole, RATE_HZ, highpass_hz=120.0, gain_control=False)
    samples = whole.astype(np.float32)
    heard: Sound = Samples(samples, len(samples))
    if law == "phone, gain, AAC":
        samples = phone_channel(whole, RATE_HZ, highpass_hz=120.0).astype(np.float32)
        heard = without_gain(samples, seconds)
    bands = PluckBands(heard, RATE_HZ, LEAD_N / RATE_HZ, seconds, 0.3)
    return follow(bands, tuple(hz.tolist()), seconds, SETTINGS), rates_hz


def without_gain(samples: np.ndarray, seconds: float) -> Sound:
    meters = Meters(RATE_HZ, Settings().recording)
    meters.take_analysis(samples)
    track = gain.track(meters.finish().levels, [LEAD_N / RATE_HZ], [len(samples) / RATE_HZ], Settings().gain)
    sound = Samples(samples, len(samples))
    return sound if track is None else gain.Levelled(sound, RATE_HZ, track)


LAWS = (
    "as supposed",
    "decays apart",
    "planes exchange",
    "depth changes",
    "a third tone",
    "splits scatter 7 %",
    "splits unrelated",
    "alike in Hz",
    "noise 30 dB below",
    "phone, AAC",
    "phone, gain, AAC",
)
"""By what the strings of the second table beat."""


def main(draws: int) -> None:
    print(f"{'rate, level':18s} |    told | median max   | > 0.05 | covered")
    cells = {}
    for rate_hz in RATES_HZ:
        for level_db in LEVELS_DB:
            name = f"{rate_hz:.1f} Hz, {level_db:.0f} dB"
            rng = np.random.default_rng([int(100 * rate_hz), int(-level_db)])
            cells[name] = counted([drawn(rng, rate_hz, level_db) for _ in range(draws)])
            print(line(name, *cells[name]), flush=True)
    print(line("all", sum(p for p, _ in cells.values()), np.concatenate([rows for _, rows in cells.values()])))
    rng = np.random.default_rng(7)
    single = [drawn(rng, 0.0, -np.inf)[0] for _ in range(4 * draws)]
    beats = sum(len(b.beats) for b in find_beats(single, SETTINGS))
    print(f"single tones: {beats} beats told of {sum(len(f.numbers) for f in single)} partials")
    for k, law in enumerate(LAWS):
        rng = np.random.default_rng([11, k])
        print(line(law, *counted([of_other_laws(law, rng) for _ in range(3 * draws)])), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 12)
