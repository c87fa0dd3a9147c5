"""The recorder's clock: tones of exactly known frequency, seen by a clock of exactly known error."""

import numpy as np
import pytest

from analyzer.plucks import Pluck, find_onsets
from analyzer.reference import reference_offset_cents
from analyzer.settings import Settings
from tests.bench.pitch_notes import Held
from tests.synth import PluckSpec, pluck

RATE_HZ = 44100
S = Settings()


def fork(hz: float, seconds: float, fall_db_per_s: float = 5.0) -> np.ndarray:
    """A tuning fork: its tone, and the clang at 6.27 times its frequency (a clamped bar's second mode: Rayleigh,
    Theory of Sound, § 173)."""
    t = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    tone = 0.2 * 10 ** (-fall_db_per_s * t / 20) * np.sin(2 * np.pi * hz * t)
    return tone + 0.1 * np.exp(-t / 0.05) * np.sin(2 * np.pi * 6.27 * hz * t)


def recording(start: np.ndarray, rng: np.random.Generator, snr_db: float = 40.0) -> Held:
    """`start` after half a second, then a harp string."""
    string, _ = pluck(PluckSpec(f1_hz=65.4), 3.0, RATE_HZ, rng)
    whole = np.concatenate([np.zeros(RATE_HZ // 2), start, string])
    return Held(whole + 0.14 * 10 ** (-snr_db / 20) * rng.standard_normal(whole.size))


def read(sound: Held, reference_hz: float = 440.0):
    plucks = find_onsets(sound, RATE_HZ, S.plucks).plucks
    return reference_offset_cents(sound, RATE_HZ, plucks, reference_hz, S.reference, S.pitch)


@pytest.mark.parametrize("off_cents", [-25.0, -0.17, 0.0, 0.17, 3.0, 25.0])
def test_a_fork_shows_by_how_much_the_clock_is_off(off_cents: float) -> None:
    rng = np.random.default_rng(1)
    got = read(recording(fork(440 * 2 ** (off_cents / 1200), 4.0), rng))
    assert got.offset_cents is not None
    assert got.u95_cents is not None
    assert got.u95_cents < 0.1
    assert abs(got.offset_cents - off_cents) <= got.u95_cents
    assert got.reason == ""


def test_a_fork_on_a_table_that_gives_mostly_its_octave_serves_as_well() -> None:
    got = read(recording(fork(880 * 2 ** (1.5 / 1200), 4.0), np.random.default_rng(2)))
    assert got.offset_cents == pytest.approx(1.5, abs=0.1)


def test_the_interval_holds_and_narrows_with_less_noise() -> None:
    halves, hits = [], 0
    for k in range(24):
        rng = np.random.default_rng(100 + k)
        got = read(recording(fork(440.0, 3.0), rng, snr_db=20.0 if k % 2 else 40.0))
        assert got.offset_cents is not None
        assert got.u95_cents is not None
        hits += abs(got.offset_cents) <= got.u95_cents
        halves.append(got.u95_cents)
    assert hits >= 20  # of 24: 95 % less what chance allows (binomial, one in a hundred)
    assert np.median(halves[1::2]) > np.median(halves[::2])


def test_a_tone_further_off_than_any_clock_is_named_and_not_used() -> None:
    got = read(recording(fork(440 * 2 ** (45 / 1200), 4.0), np.random.default_rng(3)))
    assert got.offset_cents is None
    assert "45 cents above 440 Hz" in got.reason


def test_a_string_at_the_reference_is_no_reference() -> None:
    rng = np.random.default_rng(4)
    string, _ = pluck(PluckSpec(f1_hz=440.0, glide_cents=4.0), 3.0, RATE_HZ, rng)
    got = read(recording(string, rng))
    assert got.offset_cents is None
    assert "No steady tone near 440 Hz" in got.reason


def test_a_partial_of_a_bass_string_is_no_reference() -> None:
    rng = np.random.default_rng(5)
    string, _ = pluck(PluckSpec(f1_hz=110.0, glide_cents=0.0, t60_s=9.0), 4.0, RATE_HZ, rng)
    assert read(recording(string, rng)).offset_cents is None


def test_noise_alone_is_no_reference() -> None:
    sound = Held(0.01 * np.random.default_rng(6).standard_normal(10 * RATE_HZ))
    got = reference_offset_cents(sound, RATE_HZ, (), 440.0, S.reference, S.pitch)
    assert got.offset_cents is None
    assert got.u95_cents is None
    assert got.reason


def test_a_tone_that_comes_after_the_strings_is_not_looked_for() -> None:
    rng = np.random.default_rng(7)
    sound = Held(np.concatenate([np.zeros(25 * RATE_HZ), fork(440.0, 4.0)]) + 1e-3 * rng.standard_normal(29 * RATE_HZ))
    late = Pluck(onset_s=25.0, end_s=29.0, strength_db=20.0, level_db=-20.0, rise_db=40.0)
    assert reference_offset_cents(sound, RATE_HZ, (late,), 440.0, S.reference, S.pitch).offset_cents is None
