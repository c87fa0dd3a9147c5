"""A phone's automatic gain is seen in its hiss and taken out again."""

import numpy as np
import pytest

from analyzer.gain import Levelled, track
from analyzer.meters import Levels, Meters
from analyzer.recording import Samples
from analyzer.settings import GainSettings, RecordingSettings
from tests.synth_sounds import automatic_gain

RATE_HZ = 22050
SETTINGS = GainSettings()
T60_S = 1.5
ONSETS_S = (0.5, 3.5, 6.5)


def decays():
    """Three decaying tones of 440 Hz over white hiss, 9.5 s."""
    rng = np.random.default_rng(1)
    t_s = np.arange(int(9.5 * RATE_HZ)) / RATE_HZ
    sound = 1e-3 * rng.standard_normal(t_s.size)
    for onset_s in ONSETS_S:
        since_s = np.maximum(t_s - onset_s, 0)
        sound += (t_s >= onset_s) * 0.3 * 10 ** (-3 * since_s / T60_S) * np.sin(2 * np.pi * 440 * t_s)
    return sound


def levels(sound):
    meters = Meters(RATE_HZ, RecordingSettings())
    meters.take_analysis(sound.astype(np.float32))
    return meters.finish().levels


def t60_s(sound, onset_s):
    """From the level in the first 0.9 s, the tone alone (a product with its own sine)."""
    start, stop = int((onset_s + 0.1) * RATE_HZ), int((onset_s + 1.0) * RATE_HZ)
    t_s = np.arange(start, stop) / RATE_HZ
    tone = np.abs(
        (sound[start:stop] * np.exp(-2j * np.pi * 440 * t_s))[: (stop - start) // 441 * 441].reshape(-1, 441).mean(1)
    )
    return -60 / np.polyfit(np.arange(tone.size) * 441 / RATE_HZ, 20 * np.log10(tone), 1)[0]


def test_the_gain_is_followed_and_taken_out():
    dry = decays()
    turned = automatic_gain(dry, RATE_HZ)
    ends_s = (*ONSETS_S[1:], 9.5)
    found = track(levels(turned), ONSETS_S, ends_s, SETTINGS)
    held = Levelled(Samples(turned.astype(np.float32), len(turned)), RATE_HZ, found)
    level = held.read(0, len(held))
    assert t60_s(dry, 3.5) == pytest.approx(T60_S, rel=0.01)
    assert t60_s(turned, 3.5) > 1.1 * T60_S
    assert t60_s(level, 3.5) == pytest.approx(T60_S, rel=0.04)
    assert max(found.doubt_db) < 2.0


def test_a_fixed_gain_shows_none():
    found = track(levels(decays()), ONSETS_S, (*ONSETS_S[1:], 9.5), SETTINGS)
    assert np.ptp(found.gain_db) < 1.0


def test_hiss_that_is_gated_away_shows_nothing():
    frames = np.full(200, -150.0, dtype=np.float32)
    silent = Levels(step_s=0.01, level_db=frames, hiss_step_s=0.05, hiss_db=frames)
    assert track(silent, ONSETS_S, (*ONSETS_S[1:], 9.5), SETTINGS) is None


def test_a_pluck_too_short_to_see_leaves_its_doubt():
    found = track(levels(decays()), (0.5, 0.7, 3.5), (0.7, 3.5, 9.5), SETTINGS)
    assert found.doubt_db[0] == SETTINGS.unknown_db
