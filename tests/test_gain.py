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


def turned_up(db_per_s, most_db=20.0):
    """(the gain in dB, the sound so recorded): turned down by `most_db` at each pluck, then up to where it was."""
    t_s = np.arange(int(9.5 * RATE_HZ)) / RATE_HZ
    last_s = np.full(t_s.size, -np.inf)
    for onset_s in ONSETS_S:
        last_s[t_s >= onset_s] = onset_s
    gain_db = np.minimum(0.0, db_per_s * (t_s - last_s) - most_db)
    return gain_db, decays() * 10 ** (gain_db / 20)


@pytest.mark.parametrize("db_per_s", [3.0, 8.0, 30.0])
def test_the_gain_is_known_as_well_as_is_said_from_the_attack_on(db_per_s):
    """Against the gain that was laid on, over the first second of each pluck, from where a decay is measured."""
    gain_db, turned = turned_up(db_per_s)
    found = track(levels(turned), ONSETS_S, (*ONSETS_S[1:], 9.5), SETTINGS)
    for onset_s, doubt_db in zip(ONSETS_S, found.doubt_db, strict=True):
        at_s = onset_s + np.arange(0.08, 1.0, 0.02)
        apart_db = np.interp(at_s, found.times_s, found.gain_db) - gain_db[np.round(at_s * RATE_HZ).astype(int)]
        assert np.ptp(apart_db) < 2.0
        assert abs(apart_db[0] - np.median(apart_db)) < doubt_db
        assert doubt_db < 2.5


def test_treble_that_covers_the_hiss_is_not_taken_for_gain():
    """Noise of the string's own in the hiss's band, 15 dB above it, gone after half a second."""
    gain_db, turned = turned_up(8.0)
    t_s = np.arange(turned.size) / RATE_HZ
    rng = np.random.default_rng(3)
    for onset_s in ONSETS_S:
        since_s = np.maximum(t_s - onset_s, 0)
        treble = (t_s >= onset_s) * 6e-3 * 10 ** (-3 * since_s / 0.8) * rng.standard_normal(t_s.size)
        turned += treble * 10 ** (gain_db / 20)
    found = track(levels(turned), ONSETS_S, (*ONSETS_S[1:], 9.5), SETTINGS)
    late = [onset_s + 0.9 for onset_s in ONSETS_S]
    early = [onset_s + 0.15 for onset_s in ONSETS_S]
    rise_db = np.interp(late, found.times_s, found.gain_db) - np.interp(early, found.times_s, found.gain_db)
    assert np.all(np.abs(rise_db - 8.0 * 0.75) <= np.array(found.doubt_db))
