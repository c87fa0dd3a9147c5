import io

import numpy as np
import pytest
import soundfile

from analyzer.settings import ToneSettings
from analyzer.tones import cues_csv, in_order, tone, wav

SET = ToneSettings()


def strongest_hz(sound: np.ndarray, near_hz: float) -> float:
    """Frequency of the strongest line within a semitone, from the phase advance between two halves."""
    half = len(sound) // 2
    t = np.arange(half) / SET.rate_hz
    window = np.hanning(half)
    at = np.exp(-2j * np.pi * near_hz * t) * window
    first, second = np.sum(sound[:half] * at), np.sum(sound[half : 2 * half] * at)
    turn = np.angle(second / first * np.exp(-2j * np.pi * near_hz * half / SET.rate_hz))
    return float(near_hz + turn / (2 * np.pi * half / SET.rate_hz))


@pytest.mark.parametrize("f_hz", [30.868, 65.406, 261.626, 1046.5, 3135.963])  # CRC Handbook, "Musical Scales"
def test_the_first_partial_is_at_the_target(f_hz: float) -> None:
    assert 1200 * abs(np.log2(strongest_hz(tone(f_hz, 3.5), f_hz) / f_hz)) < 0.05


def test_a_tone_is_plucked_and_does_not_clip() -> None:
    sound = tone(220.0, 3.5)
    assert np.max(np.abs(sound)) == pytest.approx(SET.peak)
    assert sound[0] == 0.0
    early, late = (np.sqrt(np.mean(sound[a:b] ** 2)) for a, b in ((500, 8000), (60000, 67500)))
    assert late < 0.5 * early


def test_tones_stand_where_the_list_says() -> None:
    sound, cues = in_order([("C4", "C4", 261.626), ("D4", "D4", 293.665)])
    for cue in cues:
        start = round(cue.start_s * SET.rate_hz)
        assert np.all(sound[start - 2000 : start] == 0.0)
        assert 1200 * abs(np.log2(strongest_hz(sound[start : start + 60000], cue.to_hz) / cue.to_hz)) < 0.05
    gap_s = cues[1].start_s - cues[0].start_s
    assert gap_s == pytest.approx(SET.repeats_n * SET.tone_s + SET.rest_s)
    assert cues_csv([("a.wav", cues[0])]).splitlines() == [
        "file,start_s,string,note,to_hz",
        "a.wav,1.00,C4,C4,261.626",
    ]


def test_the_file_is_a_wav() -> None:
    sound, _ = in_order([("C4", "C4", 261.626)])
    back, rate = soundfile.read(io.BytesIO(wav(sound)))
    assert rate == SET.rate_hz
    assert back == pytest.approx(sound, abs=1e-4)
    assert wav(sound)[:4] == b"RIFF"
