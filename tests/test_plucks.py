"""Plucks are found where synthesis put them (`tests.synth`, whose laws this stage does not share)."""

import numpy as np
import pytest

from analyzer.plucks import find_onsets
from analyzer.settings import PluckSettings
from tests.synth import PluckSpec, pluck
from tests.synth_harp import HarpSpec, harp_recording, harp_strings
from tests.synth_sounds import phone_channel

RATE_HZ = 22050


class Held:
    """Samples in memory, read as a recording's are."""

    def __init__(self, samples):
        self._samples = np.asarray(samples, dtype=np.float32)

    def __len__(self):
        return len(self._samples)

    def read(self, start, stop):
        padded = np.zeros(stop - start, dtype=np.float32)
        lo, hi = max(0, start), min(len(self._samples), stop)
        if hi > lo:
            padded[lo - start : hi - start] = self._samples[lo:hi]
        return padded


def found(samples):
    return find_onsets(Held(samples), RATE_HZ, PluckSettings()).plucks


def noise(seconds, level_db, seed=1):
    rng = np.random.default_rng(seed)
    return rng.normal(size=int(seconds * RATE_HZ)) * 10 ** (level_db / 20)


def with_plucks(onsets_s, seconds, *, noise_db=-70.0, **spec):
    out = noise(seconds, noise_db)
    for onset_s in onsets_s:
        sound, _ = pluck(PluckSpec(**spec), seconds - onset_s, RATE_HZ, np.random.default_rng(3))
        start = round(onset_s * RATE_HZ)
        out[start : start + len(sound)] += 0.2 * sound[: len(out) - start]
    return out


def test_noise_alone_has_no_plucks():
    assert found(noise(20, -50)) == ()


def test_silence_and_next_to_nothing_have_no_plucks():
    assert found(np.zeros(RATE_HZ * 3)) == ()
    assert found(np.zeros(100)) == ()


@pytest.mark.parametrize("f1_hz", [33.0, 131.0, 523.0, 2900.0])
def test_onsets_are_within_15_ms(f1_hz):
    onsets_s = (1.0, 3.1, 4.45)
    plucks = found(with_plucks(onsets_s, 7.0, f1_hz=f1_hz))
    assert [p.onset_s for p in plucks] == pytest.approx(onsets_s, abs=0.015)


def test_the_same_string_0_4_s_apart_while_it_rings_on():
    onsets_s = (1.0, 1.4, 1.8, 2.2)
    plucks = found(with_plucks(onsets_s, 5.0, f1_hz=220.0))
    assert [p.onset_s for p in plucks] == pytest.approx(onsets_s, abs=0.02)


def test_a_soft_pluck_under_a_ringing_bass_string_is_found():
    loud = with_plucks((1.0,), 6.0, f1_hz=65.0)
    soft = with_plucks((3.0,), 6.0, f1_hz=880.0, noise_db=-120.0) * 10 ** (-20 / 20)
    assert [p.onset_s for p in found(loud + soft)] == pytest.approx((1.0, 3.0), abs=0.02)


def test_each_end_is_the_next_start_and_the_last_is_the_recordings():
    plucks = found(with_plucks((1.0, 2.5), 4.0, f1_hz=220.0))
    assert plucks[0].end_s == plucks[1].onset_s
    assert plucks[1].end_s == pytest.approx(4.0, abs=1e-3)


def test_level_is_that_of_the_sound():
    quiet, loud = (found(with_plucks((1.0,), 3.0, f1_hz=220.0) * factor)[0].level_db for factor in (0.1, 1.0))
    assert loud - quiet == pytest.approx(20.0, abs=0.1)


def test_a_recording_in_blocks_has_the_same_plucks():
    sound = with_plucks((1.0, 2.0, 3.0, 4.5), 6.0, f1_hz=330.0)
    small = find_onsets(Held(sound), RATE_HZ, PluckSettings(block_frames=64)).plucks
    assert small == found(sound)


@pytest.mark.parametrize("phone", [False, True])
def test_a_whole_harp_with_disturbances(phone):
    strings = harp_strings("C2", "A6", flats="BEA")
    spec = HarpSpec(
        strings=strings,
        slack_cents=-180.0,
        scatter_cents=30.0,
        missing=("F3", "A5"),
        repeats=1,
        slips=1,
        knocks=1,
        speech=1,
        snr_db=40.0,
        phone=phone,
    )
    take = harp_recording(spec, np.random.default_rng(11))
    import soxr

    plucks = found(soxr.resample(take.samples, take.rate_hz, RATE_HZ))
    onsets_s = np.array([p.onset_s for p in plucks])
    missed = [t for t in take.plucks if t.kind != "double" and np.abs(onsets_s - t.onset_s).min() > 0.05]
    assert missed == []


def test_bass_plucks_hardly_louder_than_a_steady_noise_are_found():
    strings = harp_strings("C2", "B3")
    spec = HarpSpec(strings=strings, slack_cents=-500.0, snr_db=20.0, gap_s=(1.4, 2.2), rate_hz=RATE_HZ)
    take = harp_recording(spec, np.random.default_rng(5))
    onsets_s = np.array([p.onset_s for p in found(take.samples)])
    assert [t.string for t in take.plucks if np.abs(onsets_s - t.onset_s).min() > 0.05] == []
    assert len(onsets_s) == len(take.plucks)


def test_ringing_bass_wires_in_noise_are_found_on_a_phone_too():
    """It has taken their lowest partials, and the noise covers the highest: few bands rise."""
    onsets_s, heard, events = (1.0, 2.6, 4.1, 5.8), 0, 0
    for seed in range(4):
        for lowest_hz in (33.0, 37.0, 41.0, 46.0):
            sound = noise(9.0, -53.0, seed)
            for step, onset_s in enumerate(onsets_s):
                spec = PluckSpec(f1_hz=lowest_hz * 2 ** (step / 6))
                wave, _ = pluck(spec, 9.0 - onset_s, RATE_HZ, np.random.default_rng(10 * seed + step))
                sound[round(onset_s * RATE_HZ) :] += 0.2 * wave[: len(sound) - round(onset_s * RATE_HZ)]
            at_s = np.array([p.onset_s for p in found(phone_channel(sound, RATE_HZ, highpass_hz=150.0))])
            heard += sum(np.abs(at_s - t).min() < 0.05 for t in onsets_s)
            events += len(at_s)
    assert heard >= 61  # of 64; 54 by the rise of all bands
    assert events - heard <= 3  # late by more than 50 ms, or none
