"""Strings that strike or shake something are found; what only sounds, beats, is damped or knocked beside is not."""

import numpy as np
import pytest

from analyzer.rattle import find_rattle
from analyzer.recording import Samples
from analyzer.settings import RattleSettings
from tests.harp_notes import RATE_HZ as NOTES_RATE_HZ
from tests.harp_notes import TARGETS_HZ, assemble, notes_or_skip
from tests.synth import PLUCK_RMS, PluckSpec, pluck
from tests.synth_buzz import shaking, striking
from tests.synth_sounds import case_knock

SETTINGS = RattleSettings()
RATE_HZ, LEAD_S, SECONDS = 22050, 0.5, 2.0


def looked_at(sound, f1_hz, seed=0):
    whole = np.concatenate([np.zeros(int(LEAD_S * RATE_HZ)), sound])
    whole = whole + PLUCK_RMS * 10**-2.5 * 0.3 * np.random.default_rng(seed).standard_normal(whole.size)
    return find_rattle(Samples(whole.astype(np.float32), whole.size), RATE_HZ, LEAD_S, SECONDS, f1_hz, SETTINGS)


def clean(f1_hz, seed=0):
    return pluck(PluckSpec(f1_hz=f1_hz, second_db=-np.inf), SECONDS, RATE_HZ, np.random.default_rng(seed))[0]


@pytest.mark.parametrize("f1_hz", [98.0, 131.0, 196.0])
def test_a_string_that_strikes_something_is_found_and_stops_when_it_swings_less(f1_hz):
    near = looked_at(striking(PluckSpec(f1_hz=f1_hz), 0.1, SECONDS, RATE_HZ), f1_hz)
    assert near.heard(SETTINGS)
    assert near.fell_db > 8
    far = looked_at(striking(PluckSpec(f1_hz=f1_hz), 50.0, SECONDS, RATE_HZ), f1_hz)
    assert far is None or not far.heard(SETTINGS)


def test_a_loose_part_is_found_and_is_silent_sooner_where_it_needs_more():
    sound = clean(131.0)
    stops_s = []
    for gravity in (0.15, 0.35):
        found = looked_at(shaking(sound, 131.0, RATE_HZ, np.random.default_rng(1), gravity, -26.0), 131.0)
        assert found.heard(SETTINGS)
        stops_s.append(found.stopped_s)
    assert stops_s[0] > stops_s[1]


@pytest.mark.parametrize("f1_hz", [82.0, 131.0, 196.0, 330.0, 523.0])
def test_clean_strings_are_none_not_even_damped_by_a_hand(f1_hz):
    sound = clean(f1_hz)
    late_s = np.arange(sound.size) / RATE_HZ - 0.25
    for one in (sound, sound * np.exp(-np.maximum(late_s, 0) / 0.03)):
        found = looked_at(one, f1_hz)
        assert found is None or not found.heard(SETTINGS)


def test_a_knock_during_the_pluck_is_none():
    sound = clean(131.0)
    knock = 0.1 * case_knock(RATE_HZ, np.random.default_rng(2))
    start = int(0.3 * RATE_HZ)
    sound[start : start + knock.size] += knock[: sound.size - start]
    found = looked_at(sound, 131.0)
    assert found is None or not found.heard(SETTINGS)


def test_too_short_or_too_high_is_not_looked_at():
    sound = clean(131.0)
    samples = Samples(sound.astype(np.float32), sound.size)
    assert find_rattle(samples, RATE_HZ, 0.3, 0.2, 131.0, SETTINGS) is None
    assert find_rattle(samples, RATE_HZ, 0.3, 1.5, 1800.0, SETTINGS) is None


def test_a_concert_harps_notes_do_not_rattle(request):
    import soxr

    take = assemble(notes_or_skip(request.config), np.random.default_rng(0), snr_db=70)
    sound = soxr.resample(take.samples, NOTES_RATE_HZ, RATE_HZ).astype(np.float32)
    ends_s = [*(p.onset_s for p in take.plucks[1:]), len(sound) / RATE_HZ]
    looked_n = 0
    for p, end_s in zip(take.plucks, ends_s, strict=True):
        samples = Samples(sound, len(sound))
        found = find_rattle(samples, RATE_HZ, p.onset_s, end_s - p.onset_s, TARGETS_HZ[p.string], SETTINGS)
        looked_n += found is not None
        assert found is None or not found.heard(SETTINGS)
    assert looked_n > 8
