"""The demo's recordings hold the invented harp they say they hold, measured by plain transforms."""

import numpy as np
import pytest
import soundfile
from scipy import signal

from analyzer.demo import (
    DULL,
    FALSE,
    MISSING,
    OCTAVE_LOW,
    PLUCKED_TWICE,
    STILL_DULL,
    demo_harp,
    demo_plucks,
    demo_samples,
    write_demo_recordings,
)
from analyzer.settings import DemoSettings

SETTINGS = DemoSettings()
RATE_HZ = SETTINGS.rate_hz
STATES = ("before", "after")


@pytest.fixture(scope="module")
def recordings():
    return {state: demo_samples(state) for state in STATES}


def sounds(state):
    """(string, its samples' slice) of every pluck, from 0.15 s after the onset to 0.1 s before the next."""
    plucks = demo_plucks(state)
    ends_s = [one.onset_s for one in plucks[1:]] + [plucks[-1].onset_s + 2.0]
    harp = {string.string: string for string in demo_harp(state)}
    for one, end_s in zip(plucks, ends_s, strict=True):
        if one.string is not None:
            yield harp[one.string], slice(int((one.onset_s + 0.15) * RATE_HZ), int((end_s - 0.1) * RATE_HZ))


def peak_hz(sound, near_hz):
    size = 4 * sound.size
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(sound.size), size))
    at_hz = np.fft.rfftfreq(size, 1 / RATE_HZ)
    near = np.flatnonzero(np.abs(at_hz / near_hz - 1) < 0.04)
    i = near[np.argmax(spectrum[near])]
    left, mid, right = np.log(spectrum[i - 1 : i + 2])
    return at_hz[i] + 0.5 * (left - right) / (left - 2 * mid + right) * at_hz[1]


@pytest.mark.parametrize("state", STATES)
def test_every_string_sounds_as_far_off_as_stated(recordings, state):
    for string, part in sounds(state):
        if string.split_hz:
            continue
        heard_hz = peak_hz(recordings[state][part], string.target_hz * 2 ** (string.cents / 1200))
        assert 1200 * np.log2(heard_hz / string.target_hz) == pytest.approx(string.cents, abs=0.5), string.string


def test_decays_are_as_stated_and_dull_strings_die_sooner(recordings):
    for string, part in sounds("before"):
        if string.split_hz:
            continue
        f1_hz = string.target_hz * 2 ** (string.cents / 1200)
        band = signal.butter(2, [0.8 * f1_hz, 1.2 * f1_hz], "bandpass", fs=RATE_HZ, output="sos")
        level_db = 20 * np.log10(np.abs(signal.hilbert(signal.sosfiltfilt(band, recordings["before"][part]))))
        used = np.arange(RATE_HZ // 10, int(min(0.9 * level_db.size, 0.5 * string.t60_s * RATE_HZ)))
        slope_db_per_s = np.polyfit(used / RATE_HZ, level_db[used], 1)[0]
        assert -60 / slope_db_per_s == pytest.approx(string.t60_s, rel=0.06), string.string
    assert {string.string for string in demo_harp("before") if string.dull} == set(DULL)


def test_the_false_string_beats(recordings):
    string, part = next((string, part) for string, part in sounds("before") if string.string == FALSE)
    f1_hz = string.target_hz * 2 ** (string.cents / 1200)
    band = signal.butter(2, [0.8 * f1_hz, 1.2 * f1_hz], "bandpass", fs=RATE_HZ, output="sos")
    envelope = np.log(np.abs(signal.hilbert(signal.sosfiltfilt(band, recordings["before"][part]))))
    envelope = signal.detrend(envelope[: 3 * RATE_HZ // 2])
    dips = signal.find_peaks(-envelope, prominence=0.5)[0]
    assert np.mean(np.diff(dips)) / RATE_HZ == pytest.approx(1 / SETTINGS.split_hz, rel=0.05)


def test_before_has_the_faults_of_the_story():
    before = {string.string: string for string in demo_harp("before")}
    assert len(before) == 34
    assert {name for name, string in before.items() if string.cents is None} == set(MISSING)
    assert before[OCTAVE_LOW].cents < -1200
    least, most = SETTINGS.slack_cents
    for name, string in before.items():
        if string.cents is not None and name != OCTAVE_LOW:
            assert most - SETTINGS.slack_scatter_cents <= string.cents <= least + SETTINGS.slack_scatter_cents
    heard = [one.string for one in demo_plucks("before")]
    assert len(heard) == 34 - 2 + 2
    assert heard.count(PLUCKED_TWICE) == 2
    assert heard.count(None) == 1


def test_after_is_in_tune_and_but_for_one_string_sound():
    after = demo_harp("after")
    assert all(abs(string.cents) <= SETTINGS.tuned_cents for string in after)
    assert [string.string for string in after if string.dull] == [STILL_DULL]
    assert not any(string.split_hz for string in after)
    assert [one.string for one in demo_plucks("after")] == [string.string for string in after]


def test_silence_before_each_pluck_is_that_of_the_room(recordings):
    quiet = recordings["before"][: int((SETTINGS.lead_s - 0.01) * RATE_HZ)]
    assert np.std(quiet) == pytest.approx(SETTINGS.noise_rms, rel=0.02)
    for state in STATES:
        assert np.max(np.abs(recordings[state])) < 0.99  # nothing clips


def test_files_are_mono_flac_and_the_same_each_time(tmp_path):
    first = write_demo_recordings(tmp_path / "one" / "demo")
    again = write_demo_recordings(tmp_path / "two")
    assert [path.name for path in first] == ["before.flac", "after.flac"]
    for path, other in zip(first, again, strict=True):
        info = soundfile.info(path)
        assert (info.samplerate, info.channels, info.format) == (44100, 1, "FLAC")
        assert 60 < info.duration < 180
        assert path.read_bytes() == other.read_bytes()
