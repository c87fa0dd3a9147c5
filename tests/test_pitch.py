"""The pitch of plucks whose truth is known by the modal synthesis of `tests.synth`, which shares no code with it."""

import functools
from dataclasses import replace

import numpy as np
import pytest
from scipy import signal

from analyzer import pitch
from analyzer.bands import PluckBands
from analyzer.pitch import Pitch
from analyzer.settings import PitchSettings
from analyzer.stiff_law import fit_law, weighed
from tests.bench.pitch_notes import LEAD_S, RATE_HZ, Held, cramer_rao_cents, mixed_notes, stationary_notes
from tests.synth import NoteTruth, PluckSpec, pluck

S = PitchSettings()
PLAIN = PluckSpec(f1_hz=220.0, glide_cents=0.0, second_db=-np.inf, finger_db=-np.inf, knock_db=-np.inf)
SHARP_CENTS = 0.02
"""What is left without noise, room or beats: bands' edges and the rise of the pluck."""


def cents(hz: float, of_hz: float) -> float:
    return 1200 * float(np.log2(hz / of_hz))


def sounded(spec: PluckSpec, seconds: float = 2.5, seed: int = 1) -> tuple[np.ndarray, NoteTruth]:
    """A pluck after `LEAD_S` of silence."""
    dry, truth = pluck(spec, seconds, RATE_HZ, np.random.default_rng(seed))
    return np.concatenate([np.zeros(round(LEAD_S * RATE_HZ)), dry]), truth


def read(
    samples: np.ndarray,
    seed_hz: float,
    seconds: float = 2.5,
    stiffness: tuple[float, float] | None = None,
    ring_from_s: float = -LEAD_S,
    automatic_gain: bool = False,
) -> Pitch | None:
    bands = PluckBands(Held(samples), RATE_HZ, LEAD_S, seconds, S.ring_s + S.guard_s)
    return pitch.measure(bands, seed_hz, seconds, ring_from_s, stiffness, S, automatic_gain=automatic_gain)


def noise(like: np.ndarray, rms: float, seed: int = 2) -> np.ndarray:
    return rms * np.random.default_rng(seed).standard_normal(like.size)


@pytest.mark.parametrize("f1_hz", [32.7, 65.4, 220.0, 880.0, 1760.0, 3136.0])
@pytest.mark.parametrize("off_cents", [-30.0, 30.0])
def test_a_clean_string_reads_its_pitch_from_a_seed_thirty_cents_off(f1_hz: float, off_cents: float) -> None:
    samples, truth = sounded(replace(PLAIN, f1_hz=f1_hz))
    got = read(samples, f1_hz * 2 ** (off_cents / 1200))
    assert got is not None
    assert not got.inferred
    assert abs(cents(got.pitch_hz, truth.pitch_hz)) < SHARP_CENTS
    assert got.cents_u95 < 0.6


def test_inharmonicity_comes_out_as_it_went_in() -> None:
    samples, _ = sounded(replace(PLAIN, inharmonicity=4e-4))
    got = read(samples, 220.0, stiffness=(3e-4, 0.35))
    assert got is not None
    assert got.inharmonicity == pytest.approx(4e-4, rel=0.02)
    assert got.law_scatter_cents == pytest.approx(0.0, abs=0.1)


@pytest.mark.parametrize("glide_cents", [2.0, 8.0])
@pytest.mark.parametrize("f1_hz", [65.4, 440.0, 1568.0])
def test_a_gliding_string_reads_the_mean_that_the_definition_means(f1_hz: float, glide_cents: float) -> None:
    samples, truth = sounded(replace(PLAIN, f1_hz=f1_hz, glide_cents=glide_cents))
    got = read(samples, f1_hz)
    assert got is not None
    error = cents(got.pitch_hz, truth.pitch_hz)
    assert abs(error) < min(got.cents_u95, 0.3)
    assert abs(error) < 0.2 * abs(cents(truth.pitch_hz, truth.f1_hz)) + SHARP_CENTS
    assert got.partials[0].glide_cents_per_s < 0


@pytest.mark.parametrize(("split_hz", "second_db"), [(0.25, -10.0), (0.8, -5.0), (1.6, -4.0)])
def test_a_beating_string_reads_the_mean_that_the_definition_means(split_hz: float, second_db: float) -> None:
    samples, truth = sounded(replace(PLAIN, split_hz=split_hz, second_db=second_db))
    got = read(samples, 220.0)
    assert got is not None
    assert abs(cents(truth.pitch_hz, truth.f1_hz)) > 0.05
    assert abs(cents(got.pitch_hz, truth.pitch_hz)) < min(got.cents_u95, 0.1 * 1731 * split_hz / 220)


def test_a_first_partial_that_the_microphone_dropped_is_inferred_and_the_interval_widens() -> None:
    samples, truth = sounded(replace(PLAIN, f1_hz=65.4))
    without = signal.sosfilt(signal.butter(16, 150.0, "highpass", fs=RATE_HZ, output="sos"), samples)
    whole = read(samples + noise(samples, 3e-4), 65.4, stiffness=(1.7e-4, 0.35))
    got = read(np.asarray(without) + noise(samples, 3e-4), 65.4, stiffness=(1.7e-4, 0.35))
    assert whole is not None
    assert got is not None
    assert not whole.inferred
    assert got.inferred
    assert abs(cents(got.pitch_hz, truth.pitch_hz)) < 1.5
    assert got.cents_u95 > 2 * S.body_cents * 0.9 > whole.cents_u95


@pytest.mark.parametrize("apart_cents", [100.0, -100.0, 1200.0])
def test_an_earlier_string_ringing_near_does_not_pull_the_pitch(apart_cents: float) -> None:
    other, _ = pluck(replace(PLAIN, f1_hz=220.0 * 2 ** (apart_cents / 1200), strength_db=3.0), 3.3, RATE_HZ)
    samples, truth = sounded(PLAIN)
    got = read(samples + np.pad(other, (0, samples.size))[: samples.size] + noise(samples, 1e-4), 220.0)
    assert got is not None
    assert abs(cents(got.pitch_hz, truth.pitch_hz)) < 0.5
    assert got.cents_u95 < 3


def test_an_earlier_string_at_the_same_pitch_widens_the_interval() -> None:
    """Two tones within a fraction of a hertz cannot be parted in a second: the interval must own up."""
    samples, _ = sounded(PLAIN)
    other, _ = pluck(replace(PLAIN, f1_hz=220.15, t60_s=6.0, strength_db=3.0), 3.3, RATE_HZ)
    both = samples + other[: samples.size]
    alone, beside = read(samples, 220.0), read(both, 220.0)
    assert alone is not None
    assert beside is not None
    assert beside.cents_u95 > 3 * alone.cents_u95


def test_in_white_noise_it_comes_within_twice_the_cramer_rao_bound() -> None:
    ratios = []
    for note in stationary_notes(16, seed=6):
        got = read(note.samples, note.seed_hz, note.duration_s)
        assert got is not None
        ratios.append(cents(got.pitch_hz, note.truth.pitch_hz) / cramer_rao_cents(note)[0])
    assert np.sqrt(np.mean(np.square(ratios))) < 2


@functools.cache
def mixed() -> tuple[tuple[float, float, float], ...]:
    """(error, its u95, off the seed) of notes of all kinds; NaN for no answer."""
    rows = []
    for note in mixed_notes(24, seed=8):
        got = read(note.samples, note.seed_hz, note.duration_s, note.stiffness, -LEAD_S, note.channel == "phone")
        assert got is not None
        rows.append((cents(got.pitch_hz, note.truth.pitch_hz), got.cents_u95, cents(got.pitch_hz, note.seed_hz)))
    return tuple(rows)


def test_notes_of_all_kinds_are_read_without_a_gross_error() -> None:
    error = np.abs([row[0] for row in mixed()])
    assert error.max() < 15
    assert np.median(error) < 0.2
    assert np.percentile(error, 95) < 2


def test_intervals_hold_on_notes_of_all_kinds_and_are_narrow() -> None:
    covered = np.mean([abs(error) <= u95 for error, u95, _ in mixed()])
    assert covered > 0.81  # 95 % less three standard errors of 24
    assert np.median([u95 for _, u95, _ in mixed()]) < 1


def test_automatic_gain_widens_the_interval_of_a_gliding_string_only() -> None:
    for glide, wider in ((0.0, 1.3), (6.0, 1.0)):
        samples, _ = sounded(replace(PLAIN, glide_cents=glide))
        plain, gained = (read(samples, 220.0, automatic_gain=on) for on in (False, True))
        assert plain is not None
        assert gained is not None
        assert gained.pitch_hz == plain.pitch_hz
        if glide:
            assert gained.cents_u95 > 1.5 * plain.cents_u95
        else:
            assert gained.cents_u95 < wider * plain.cents_u95


@pytest.mark.parametrize("f1_hz", [50.0, 220.0, 2500.0])
def test_noise_alone_has_no_pitch(f1_hz: float) -> None:
    for seed in range(8):
        samples = noise(np.zeros(3 * RATE_HZ), 0.05, seed)
        assert read(samples, f1_hz, 2.0) is None


def test_silence_has_no_pitch() -> None:
    assert read(np.zeros(3 * RATE_HZ), 220.0, 2.0) is None


def test_too_short_a_sound_has_no_pitch_and_a_short_one_a_wider_interval() -> None:
    samples, truth = sounded(replace(PLAIN, glide_cents=3.0))
    samples = samples + noise(samples, 1e-3)
    short, long = read(samples, 220.0, 0.3), read(samples, 220.0)
    assert read(samples, 220.0, 0.1) is None
    assert short is not None
    assert long is not None
    assert short.cents_u95 > long.cents_u95
    assert abs(cents(short.pitch_hz, truth.pitch_hz)) < 5


def test_the_law_s_fit_gives_back_the_law_and_sees_a_scatter() -> None:
    n = np.arange(2.0, 11.0)
    b = 3e-4
    exact = 600 * np.log2((1 + b * n**2) / (1 + b)) + 7.0
    own = np.full(len(n), 0.1)
    law = fit_law(n, exact, own, (2e-4, 0.7), S)
    assert law.cents == pytest.approx(7.0, abs=0.05)
    assert law.stiffness == pytest.approx(b, rel=0.01)
    assert law.scatter_cents == pytest.approx(0.0, abs=0.05)
    off = 5.0 * np.random.default_rng(4).standard_normal(len(n))
    rough = fit_law(n, exact + off, own, (2e-4, 0.7), S)
    assert rough.scatter_cents == pytest.approx(float(np.std(off)), rel=0.4)
    assert rough.deviation_cents > 5 * law.deviation_cents


def test_two_values_are_weighed_by_their_variances() -> None:
    """GUM (JCGM 100) and every textbook: 10 ± 1 and 16 ± 2 make 11.2 ± 0.894."""
    mean, deviation = weighed((10.0, 1.0), (16.0, 2.0))
    assert mean == pytest.approx(11.2)
    assert deviation == pytest.approx(0.894, abs=5e-4)
