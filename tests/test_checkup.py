"""The check-up: signals of known fault give the right figure and finding, a good recording gives none."""

import functools
from pathlib import Path

import numpy as np
import pytest
import soundfile

from analyzer.checkup import gain_lift_db, review_with_plucks
from analyzer.meters import find_bandwidth
from analyzer.recording import Recording, read_recording
from analyzer.settings import RecordingSettings

SETTINGS = RecordingSettings()
RATE_HZ = 44100
ONSETS_S = np.arange(12) * 2.0 + 0.5


@functools.cache
def plucks() -> np.ndarray:
    """Twelve plucks of six partials each, 2 s apart."""
    sound = np.zeros(int(24.5 * RATE_HZ))
    after = np.arange(2 * RATE_HZ) / RATE_HZ
    for k, onset_s in enumerate(ONSETS_S):
        pitch_hz = 110 * 2 ** (k / 4)
        partials = (0.2 / n * np.sin(2 * np.pi * n * pitch_hz * after) * np.exp(-after * (4 + n)) for n in range(1, 7))
        sound[round(onset_s * RATE_HZ) :][: len(after)] += sum(partials)
    return sound


def harp(noise_db: float = -65.0) -> np.ndarray:
    """The plucks over white noise of known RMS level."""
    return plucks() + np.random.default_rng(3).normal(0, 10 ** (noise_db / 20), len(plucks()))


def read(tmp_path: Path, sound: np.ndarray, rate_hz: int = RATE_HZ, subtype: str = "PCM_24") -> Recording:
    path = tmp_path / "sound.wav"
    soundfile.write(path, sound, rate_hz, subtype=subtype)
    return read_recording(path, SETTINGS)


def codes(recording: Recording) -> list[str]:
    return [finding.code for finding in recording.info.findings]


def ends(recording: Recording) -> list[float]:
    return [*ONSETS_S[1:], recording.info.duration_s]


def test_a_good_recording_gives_no_finding(tmp_path: Path) -> None:
    recording = read(tmp_path, harp())
    info = review_with_plucks(recording.info, recording.levels, ONSETS_S, ends(recording), SETTINGS)
    assert info.findings == ()
    assert not info.automatic_gain
    assert info.hum_hz is None
    assert info.clipped_at_s == ()


def test_a_synthetic_recording_without_any_noise_gives_no_finding(tmp_path: Path) -> None:
    recording = read(tmp_path, harp(noise_db=-300), subtype="PCM_16")
    info = review_with_plucks(recording.info, recording.levels, ONSETS_S, ends(recording), SETTINGS)
    assert info.findings == ()


@pytest.mark.parametrize("noise_db", [-40.0, -55.0, -70.0])
@pytest.mark.parametrize("rate_hz", [44100, 22050])
def test_the_noise_floor_is_within_a_decibel(tmp_path: Path, noise_db: float, rate_hz: int) -> None:
    # what lies above the analysis band does not count: white noise loses the share of it that the resampler cuts
    recording = read(tmp_path, harp(noise_db), rate_hz)
    kept_db = 10 * np.log10(SETTINGS.rate_hz / rate_hz)
    assert recording.info.noise_floor_db == pytest.approx(noise_db + kept_db, abs=1.0)


def test_noise_near_the_plucks_is_said(tmp_path: Path) -> None:
    assert "noise" in codes(read(tmp_path, harp(noise_db=-30)))


def test_clipping_is_counted_and_placed(tmp_path: Path) -> None:
    sound = harp()
    places_s = (3.0, 8.25, 16.5)
    for at_s in places_s:
        sound[round(at_s * RATE_HZ) :][:40] = 1.5
    sound[5 * RATE_HZ] = 1.5  # one sample is a peak and no clipping
    recording = read(tmp_path, sound, subtype="PCM_16")
    assert recording.info.clipped_at_s == pytest.approx(places_s, abs=1e-4)
    finding = recording.info.findings[0]
    assert (finding.code, finding.severity) == ("clipping", "note")
    assert "3 places (120 samples" in finding.what
    assert "0:03.0, 0:08.2, 0:16.5" in finding.what


@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24"])
def test_what_was_clipped_and_then_turned_down_is_found(tmp_path: Path, subtype: str) -> None:
    """An editor's or a phone's "normalise" after a recorder that was overloaded; common practice, no source."""
    sound = harp()
    limit = 0.4 * float(np.abs(sound).max())
    turned_down = 0.7 / limit * np.clip(sound, -limit, limit)
    finding = read(tmp_path, turned_down, subtype=subtype).info.findings[0]
    assert (finding.code, finding.severity) == ("clipping", "warning")
    assert "cut off 3.1 dB below full scale, and turned down since" in finding.what
    for at_n in (RATE_HZ, len(sound) - RATE_HZ):
        louder = turned_down.copy()
        louder[at_n : at_n + 2] = 0.8  # something exceeds it: a limiter's or a wave's own tops, and not cut off
        assert "clipping" not in codes(read(tmp_path, louder, subtype=subtype))
    (finding,) = (f for f in read(tmp_path, 1.5 * turned_down, subtype=subtype).info.findings if f.code == "clipping")
    assert "at full scale" in finding.what  # clipped once more, by the file itself


def test_low_tones_whose_tops_are_alike_are_not_clipped(tmp_path: Path) -> None:
    t_s = np.arange(10 * RATE_HZ) / RATE_HZ
    assert "clipping" not in codes(read(tmp_path, 0.9 * np.sin(2 * np.pi * 65.4 * t_s), subtype="PCM_16"))


def test_clipping_in_one_channel_is_found(tmp_path: Path) -> None:
    sound = harp()
    loud = sound.copy()
    loud[RATE_HZ : RATE_HZ + 20] = -1.0
    assert codes(read(tmp_path, np.stack((sound, loud), axis=1))) == ["clipping"]


def test_peak_and_quiet(tmp_path: Path) -> None:
    sound = harp(noise_db=-90)
    sound *= 10 ** (-36 / 20) / np.abs(sound).max()
    recording = read(tmp_path, sound)
    assert recording.info.peak_db == pytest.approx(-36, abs=0.01)
    assert "quiet" in codes(recording)


@pytest.mark.parametrize("mains_hz", [50.0, 60.0])
@pytest.mark.parametrize("harmonics", [(1,), (1, 2, 3), (2, 4)])
def test_hum_is_told_between_50_and_60(tmp_path: Path, mains_hz: float, harmonics: tuple[int, ...]) -> None:
    t = np.arange(len(harp())) / RATE_HZ
    hum = sum(10 ** (-60 / 20) * np.sqrt(2) * np.sin(2 * np.pi * n * (mains_hz + 0.05) * t + n) for n in harmonics)
    recording = read(tmp_path, harp() + hum)
    assert recording.info.hum_hz == mains_hz
    assert codes(recording) == ["hum"]
    expected_db = -60 + 10 * np.log10(len(harmonics))
    finding = recording.info.findings[0]
    assert f"({expected_db:.0f} dB)" in finding.what or f"({expected_db - 1:.0f} dB)" in finding.what


def test_a_ringing_g1_is_no_hum(tmp_path: Path) -> None:
    # G1 = 48.999 Hz at A4 = 440 (ISO 16), the string that lies nearest to 50 Hz, ringing all the time
    t = np.arange(len(harp())) / RATE_HZ
    ringing = sum(1e-3 * np.sin(2 * np.pi * 48.999 * n * t) for n in range(1, 7))
    assert read(tmp_path, harp() + ringing).info.hum_hz is None


@pytest.mark.parametrize("edge_hz", [2500, 3400, 5000, 8000, 15000])
def test_the_bandwidth_of_low_passed_sound_is_within_a_tenth(tmp_path: Path, edge_hz: int) -> None:
    sound = harp(noise_db=-50)
    spectrum = np.fft.rfft(sound)
    spectrum[np.fft.rfftfreq(len(sound), 1 / RATE_HZ) > edge_hz] = 0
    recording = read(tmp_path, np.fft.irfft(spectrum, len(sound)))
    assert recording.info.bandwidth_hz == pytest.approx(edge_hz, rel=0.1)
    assert ("bandwidth" in codes(recording)) == (edge_hz < SETTINGS.wanted_bandwidth_hz)


@pytest.mark.parametrize("rate_hz", [8000, 16000, 96000])
def test_the_bandwidth_ends_with_the_files_own_rate(tmp_path: Path, rate_hz: int) -> None:
    noise = np.random.default_rng(5).normal(0, 0.01, 10 * rate_hz)
    recording = read(tmp_path, noise, rate_hz)
    assert recording.info.bandwidth_hz == pytest.approx(rate_hz / 2, rel=0.1)
    assert ("bandwidth" in codes(recording)) == (rate_hz == 8000)


def test_a_spectrum_that_slopes_is_not_cut_off() -> None:
    width_hz = 86.0
    slope = (-40 - 60 * np.arange(256) * width_hz / 5000).astype(np.float32)
    edge_hz, cut = find_bandwidth(slope, slope - 20, width_hz, SETTINGS)
    assert not cut
    assert edge_hz == pytest.approx(5000 * 100 / 60, rel=0.02)  # where it sinks below the floor of -140 dB


def test_a_bass_string_over_noise_is_not_cut_off(tmp_path: Path) -> None:
    t = np.arange(10 * RATE_HZ) / RATE_HZ
    bass = 0.3 * np.sin(2 * np.pi * 220 * t) * np.exp(-3 * (t % 2.5))
    recording = read(tmp_path, bass + np.random.default_rng(0).normal(0, 1e-3, len(t)))
    assert recording.info.bandwidth_hz == pytest.approx(RATE_HZ / 2, rel=0.01)
    assert codes(recording) == []


def test_gaps_in_a_sounding_string_are_found_and_silence_between_is_not(tmp_path: Path) -> None:
    sound = harp(noise_db=-300)
    sound[round(1.9 * RATE_HZ) : round(2.3 * RATE_HZ)] = 0  # a string faded into silence: a gate, no gap
    for at_s in (4.7, 10.65):
        sound[round(at_s * RATE_HZ) : round((at_s + 0.06) * RATE_HZ)] = 0
    recording = read(tmp_path, sound, subtype="PCM_16")
    assert [start for start, _ in recording.info.gaps_s] == pytest.approx([4.7, 10.65], abs=0.011)
    assert [end - start for start, end in recording.info.gaps_s] == pytest.approx([0.06, 0.06], abs=0.011)
    assert codes(recording) == ["gap"]


def test_automatic_gain_is_found_by_its_hiss(tmp_path: Path) -> None:
    sound = harp(noise_db=-60)
    t = np.arange(len(sound)) / RATE_HZ
    # down by 6 dB at each attack, back within 2 s
    since = t - ONSETS_S[np.maximum(np.searchsorted(ONSETS_S, t, side="right") - 1, 0)]
    gain = np.where(t < ONSETS_S[0], 1, 10 ** (-6 / 20 * np.clip(1 - since / 2, 0, 1)))
    recording = read(tmp_path, sound * gain)
    lift_db = gain_lift_db(recording.levels, ONSETS_S, ends(recording), SETTINGS)
    # between 0.45 s after the onset and 0.175 s before the end: 3 dB a second over 1.375 s
    assert lift_db == pytest.approx(4.1, abs=0.7)
    info = review_with_plucks(recording.info, recording.levels, ONSETS_S, ends(recording), SETTINGS)
    assert info.automatic_gain
    assert [f.code for f in info.findings] == ["automatic gain"]


def test_a_gate_is_told_with_what_it_spoils(tmp_path: Path) -> None:
    recording = read(tmp_path, harp())
    info = review_with_plucks(recording.info, recording.levels, ONSETS_S, ends(recording), SETTINGS, gate_db=12.3)
    assert info.automatic_gain
    (finding,) = info.findings
    assert (finding.code, finding.severity) == ("gate", "warning")
    assert "by up to 12 dB" in finding.what
    # a gate that closes altogether cannot be corrected: decays are read until it does
    assert "allowed for as far as the hiss shows it" in finding.spoils
    assert "dull strings are less sure" in finding.spoils


def test_nothing_is_claimed_of_the_gain_of_three_plucks(tmp_path: Path) -> None:
    recording = read(tmp_path, harp())
    assert gain_lift_db(recording.levels, ONSETS_S[:3], ONSETS_S[1:4], SETTINGS) is None


def test_plucks_too_close_together_are_said(tmp_path: Path) -> None:
    recording = read(tmp_path, harp())
    onsets_s = np.arange(12) * 0.5
    info = review_with_plucks(recording.info, recording.levels, onsets_s, onsets_s + 0.5, SETTINGS)
    assert [f.code for f in info.findings] == ["too close"]
    assert info.findings[0].what.startswith("11 of 12 plucks")


@pytest.mark.parametrize("onsets_s", [[], [1.0]])
def test_no_plucks_or_one_change_nothing(tmp_path: Path, onsets_s: list[float]) -> None:
    recording = read(tmp_path, harp())
    info = review_with_plucks(recording.info, recording.levels, onsets_s, [t + 1 for t in onsets_s], SETTINGS)
    assert info == recording.info


@pytest.mark.parametrize("length_n", [1, 50, 500, 5000])
def test_the_shortest_sounds_are_read_without_a_stumble(tmp_path: Path, length_n: int) -> None:
    recording = read(tmp_path, np.random.default_rng(0).normal(0, 0.1, length_n))
    assert recording.info.hum_hz is None
    assert np.isfinite(recording.info.noise_floor_db)
