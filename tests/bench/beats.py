"""Beats of synthetic strings: how well their rates are read, by rate and level of the weaker tone.

Run `python -m tests.bench.beats [DRAWS]` from the repository: DRAWS plucks (default 12) in each cell, fixed seeds, a
quarter of a minute. Strings of 60 to 700 Hz with the usual decays, the weaker tone's 1 to 1.3 times as long, a glide
of up to 4 cents, heard for 2.4 to 4 s over noise 35 to 50 dB below. Frequencies of partials are taken from the truth.

Every partial of the first six whose beat turns at least `FalseSettings.least_turns` times in what can be heard of it
counts as one that can be told. Columns: told of those; median and largest error in Hz, share beyond 0.05 Hz, share of
95 % intervals that hold the truth; and how many beats are told where there is none (single tones). Below: the same of
those beats of which a listener who hears the partial alone, and knows that two decaying tones in white noise it is,
could know the rate within 0.05 Hz (`bounds_hz`); and, string by string, of the beat that is told best.

The second table has 60 to 700 Hz strings that beat by other laws than the fit supposes (`LAWS`): each tone with a decay
of its own, planes that exchange their energy, a depth that swells and ebbs, a third tone, splits that scatter about
their proportion to the frequency or have nothing to do with it; or that are heard badly.
"""

import sys
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from analyzer import gain
from analyzer.bands import PluckBands
from analyzer.beating import Followed, find_beats, follow
from analyzer.meters import Meters
from analyzer.plucks import Sound
from analyzer.recording import Samples
from analyzer.schroeder import NEPERS_60
from analyzer.settings import Settings
from tests.synth import PLUCK_RMS, PartialTruth, PluckSpec, modal_sum, pluck, usual_t60_s
from tests.synth_sounds import phone_channel

SETTINGS = Settings().falseness
RATE_HZ = 22050
LEAD_N = 8000
RATES_HZ = (0.3, 0.5, 1.0, 2.0, 3.5, 5.0)
LEVELS_DB = (0.0, -6.0, -13.0, -20.0)
WITHIN_HZ = 0.05


class Drawn(NamedTuple):
    """One pluck."""

    followed: Followed
    rates_hz: np.ndarray
    """How fast its partials beat, shape (N,)."""
    bounds_hz: np.ndarray | None = None
    """Half-widths of the narrowest 95 % intervals of the rates of the first of them that are possible."""


class Told(NamedTuple):
    """A beat that can be told."""

    pluck: int
    error_hz: float
    """NaN where it is not told."""
    u95_hz: float
    bound_hz: float


def bounds_hz(spec: PluckSpec, partials: Sequence[PartialTruth], noise: float, seconds: float) -> np.ndarray:
    """1.96 times the Cramer-Rao bounds of the beats' rates (Kay, Fundamentals of Statistical Signal Processing, 1993,
    15.7), shape (6,): level, phase, frequency and decay of both tones unknown, white noise of RMS `noise`."""
    level = 10 ** (np.array([p.level_db for p in partials]) / 20)
    weaker = 10 ** (spec.second_db / 20)
    level *= PLUCK_RMS * np.sqrt(2 / np.sum(level**2) / (1 + weaker**2))
    t_s = np.arange(SETTINGS.settled_s, seconds - SETTINGS.guard_s, 0.002)
    bounds = []
    for a, p in zip(level, partials[: SETTINGS.partials], strict=False):
        fall = NEPERS_60 / 2 / p.t60_s
        first = a * np.exp(-fall * t_s)
        second = weaker * a * np.exp((2j * np.pi * p.split_hz - fall / spec.second_decay_ratio) * t_s)
        turning = 2j * np.pi * t_s
        # By the logarithms of the levels, phases, decays, the frequency of both, and the rate
        slopes = np.array([first, 1j * first, -t_s * first, second, 1j * second, -t_s * second])
        slopes = np.vstack([slopes, turning * (first + second), turning * second])
        information = np.real(slopes @ slopes.conj().T) * 0.002 * RATE_HZ / (2 * noise**2)
        size = np.sqrt(np.diag(information))
        bounds.append(1.96 * np.sqrt(np.linalg.inv(information / np.outer(size, size))[-1, -1]) / size[-1])
    return np.array(bounds)


def drawn(rng: np.random.Generator, rate_hz: float, level_db: float) -> Drawn:
    """One string whose first partial beats so."""
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
    possible = bounds_hz(spec, truth.partials, noise, seconds) if rate_hz > 0 else None
    rates_hz = np.array([p.split_hz for p in truth.partials])
    return Drawn(follow(bands, partials_hz, seconds, SETTINGS), rates_hz, possible)


def counted(plucks: Sequence[Drawn]) -> list[Told]:
    """The beats that can be told."""
    out = []
    found = find_beats([p.followed for p in plucks], SETTINGS)
    for k, (pluck_k, beats) in enumerate(zip(plucks, found, strict=True)):
        told = {b.number: b for b in beats.beats}
        for number, course in zip(pluck_k.followed.numbers, pluck_k.followed.courses, strict=True):
            truth_hz = pluck_k.rates_hz[number - 1]
            if truth_hz * (len(course.power) - 1) * course.step_s < SETTINGS.least_turns or truth_hz > course.most_hz:
                continue
            beat = told.get(number)
            error_hz, u95_hz = (np.nan, np.nan) if beat is None else (beat.rate_hz - truth_hz, beat.rate_u95_hz)
            bound_hz = np.nan if pluck_k.bounds_hz is None else pluck_k.bounds_hz[number - 1]
            out.append(Told(k, error_hz, u95_hz, bound_hz))
    return out


def line(name: str, beats: Sequence[Told]) -> str:
    error, u95 = (np.array([getattr(b, of) for b in beats]) for of in ("error_hz", "u95_hz"))
    told = ~np.isnan(error)
    error, u95 = np.abs(error[told]), u95[told]
    if len(error) == 0:
        return f"{name:18s} | {0:3d}/{len(beats):3d}"
    return (
        f"{name:18s} | {len(error):3d}/{len(beats):3d} | {np.median(error):.3f} {error.max():.3f}"
        f" | {np.mean(error > WITHIN_HZ):.3f} | {np.mean(error <= u95):.2f}"
    )


def of_strings(cells: Sequence[Sequence[Told]]) -> list[Told]:
    """Of each string the beat told best, or any where none is."""
    out = []
    for beats in cells:
        for k in {b.pluck for b in beats}:
            out.append(min((b for b in beats if b.pluck == k), key=lambda b: np.nan_to_num(b.u95_hz, nan=np.inf)))
    return out


def of_other_laws(law: str, rng: np.random.Generator) -> Drawn:
    """One string that beats otherwise than the fit supposes."""
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
    return Drawn(follow(bands, tuple(hz.tolist()), seconds, SETTINGS), rates_hz)


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
            print(line(name, cells[name]), flush=True)
    every = [beat for cell in cells.values() for beat in cell]
    print(line("all", every))
    print(line("could be known", [b for b in every if b.bound_hz <= WITHIN_HZ]))
    print(line("of its string best", of_strings(list(cells.values()))))
    rng = np.random.default_rng(7)
    single = [drawn(rng, 0.0, -np.inf).followed for _ in range(4 * draws)]
    beats = sum(len(b.beats) for b in find_beats(single, SETTINGS))
    print(f"single tones: {beats} beats told of {sum(len(f.numbers) for f in single)} partials")
    for k, law in enumerate(LAWS):
        rng = np.random.default_rng([11, k])
        print(line(law, counted([of_other_laws(law, rng) for _ in range(3 * draws)])), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 12)
