"""A gate is seen in a recording's hiss, told from whatever else moves it, and taken out again.

The sounds are decaying tones over white noise, the gates of another law than the program supposes: they follow the
largest sample, with a delay of their own.
"""

import numpy as np
import pytest

from analyzer.gain import Levelled
from analyzer.gate import find
from analyzer.meters import Meters
from analyzer.recording import Samples
from analyzer.settings import GateSettings, RecordingSettings
from tests.synth_sounds import automatic_gain, expanded

RATE_HZ = 22050
SETTINGS = GateSettings()
ONSETS_S = tuple(0.5 + 3.0 * k for k in range(10))
ENDS_S = (*ONSETS_S[1:], 30.5)
T60_S = tuple(np.geomspace(5.0, 1.5, 10).tolist())
STRENGTH_DB = (0.0, -6.0, 4.0, -9.0, 2.0, -3.0, 6.0, -8.0, 0.0, -5.0)
HISS = 1e-3
TIMES_S = np.arange(int(ENDS_S[-1] * RATE_HZ)) / RATE_HZ


def each_pluck(wave):
    """The sum over the plucks of `wave(pluck, seconds since its onset)`, which the next pluck ends."""
    sound = np.zeros(TIMES_S.size)
    for k, (onset_s, end_s) in enumerate(zip(ONSETS_S, ENDS_S, strict=True)):
        at = (onset_s <= TIMES_S) & (end_s > TIMES_S)
        sound[at] += wave(k, TIMES_S[at] - onset_s)
    return sound


def tone(k, since_s):
    level = 0.2 * 10 ** (STRENGTH_DB[k] / 20 - 3 * since_s / T60_S[k])
    return level * np.sin(2 * np.pi * 440 * since_s)


def hiss(seed=1):
    return HISS * np.random.default_rng(seed).standard_normal(TIMES_S.size)


def levels(sound):
    meters = Meters(RATE_HZ, RecordingSettings())
    meters.take_analysis(sound.astype(np.float32))
    return meters.finish().levels


def found_in(sound):
    return find(levels(sound), ONSETS_S, ENDS_S, SETTINGS)


def lost_db(sound, k, stop_s=1.2):
    """How far the tone of a pluck falls from 0.1 s to `stop_s` after its onset, the tone alone (by its own sine)."""
    at = [round((ONSETS_S[k] + s) * RATE_HZ) for s in (0.1, stop_s)]
    width_n = RATE_HZ // 22  # 20 whole periods
    t_s = np.arange(width_n) / RATE_HZ
    size = [abs(np.mean(sound[n : n + width_n] * np.exp(-2j * np.pi * 440 * t_s))) for n in at]
    return 20 * np.log10(size[0] / size[1])


@pytest.mark.parametrize(("ratio", "most_db"), [(1.5, 10.0), (2.0, 15.0)])
def test_a_gate_is_taken_out_as_well_as_is_said(ratio, most_db):
    dry = each_pluck(tone) + hiss()
    gated = expanded(dry, RATE_HZ, ratio=ratio, most_db=most_db)
    gate = found_in(gated)
    assert gate.depth_db == pytest.approx(most_db, abs=1.0)
    assert gate.ends_s == ENDS_S
    held = Levelled(Samples(gated.astype(np.float32), len(gated)), RATE_HZ, gate.gain)
    level = held.read(0, len(held))
    for k, (t60_s, doubt_db) in enumerate(zip(T60_S, gate.gain.doubt_db, strict=True)):
        stop_s = 0.1 + min(1.1, 20 * t60_s / 60)
        true_db = 60 * (stop_s - 0.1) / t60_s
        assert lost_db(gated, k, stop_s) > true_db - 0.5
        assert abs(lost_db(level, k, stop_s) - true_db) < min(doubt_db, 2.5)
    assert max(lost_db(gated, k) - 66 / t for k, t in enumerate(T60_S)) > 0.8 * most_db


def test_a_fixed_gain_is_no_gate():
    assert found_in(each_pluck(tone) + hiss()) is None


def test_a_gain_that_rises_is_no_gate():
    assert found_in(automatic_gain(each_pluck(tone) + hiss(), RATE_HZ)) is None


@pytest.mark.parametrize("seed", [0, 3, 6])
def test_treble_that_covers_the_hiss_is_no_gate(seed):
    """Noise in the hiss's band that each string makes in its own way: from 10 to 40 dB above the hiss, gone within 0.3
    to 2 s (estimates, no source)."""
    rng = np.random.default_rng(seed)
    over_db, gone_s = rng.uniform(10, 40, len(ONSETS_S)), rng.uniform(0.3, 2.0, len(ONSETS_S))

    def treble(k, since_s):
        level = HISS * 10 ** (over_db[k] / 20 * (1 - since_s / gone_s[k]))
        return level * rng.standard_normal(since_s.size)

    assert found_in(each_pluck(tone) + each_pluck(treble) + hiss()) is None


@pytest.mark.parametrize(("over_db", "gone_s"), [(15.0, 6.0), (20.0, 4.0)])
def test_noise_that_every_pluck_brings_along_is_no_gate(over_db, gone_s):
    """The same in all plucks, 15 and 20 dB over the hiss, dying away by 60 dB in 6 and 4 s (estimates, no source)."""
    rng = np.random.default_rng(4)

    def rustle(_, since_s):
        return HISS * 10 ** (over_db / 20 - 3 * since_s / gone_s) * rng.standard_normal(since_s.size)

    assert found_in(each_pluck(tone) + each_pluck(rustle) + hiss()) is None


@pytest.mark.parametrize("over_db", [(0.0, 15.0), (15.0, 0.0)])
def test_noise_that_comes_or_goes_halfway_is_no_gate(over_db):
    noise = hiss() * 10 ** (np.where(ENDS_S[-1] / 2 > TIMES_S, *over_db) / 20)
    assert found_in(each_pluck(tone) + noise) is None


def test_without_hiss_nothing_is_known():
    assert found_in(expanded(each_pluck(tone), RATE_HZ)) is None


def test_what_a_gate_closes_on_ends_there():
    """Shut 0.1 s after the level falls below -25 dB, within 50 ms (common practice, no source)."""
    dry = each_pluck(tone) + hiss()
    shut = np.zeros(TIMES_S.size)
    truly_s = []
    for k, onset_s in enumerate(ONSETS_S):
        closes_s = onset_s + T60_S[k] * (25 + 20 * np.log10(0.2) + STRENGTH_DB[k]) / 60 + 0.1
        truly_s.append(min(closes_s, ENDS_S[k]))
        shut = np.where(onset_s <= TIMES_S, np.clip((TIMES_S - closes_s) / 0.05, 0, 1), shut)
    gate = found_in(dry * 10 ** (-60 * shut / 20))
    assert gate.ends_s == pytest.approx(truly_s, abs=0.1)
    assert not any(gate.gain.gain_db)


@pytest.mark.parametrize("below_db", [-21.0, -20.5])
def test_a_gate_that_is_shut_from_the_first_on_some_strings_is_found_by_the_others(below_db):
    """Three of the ten begin below -20 dB of full scale: by time alone, the lower quartile never lets the hiss be
    heard."""
    gate = found_in(expanded(each_pluck(tone) + hiss(), RATE_HZ, below_db=below_db, ratio=20.0, most_db=60.0))
    assert gate.depth_db > SETTINGS.most_db


def test_a_gate_beside_a_gain_that_rises_is_followed_by_the_hiss():
    gated = automatic_gain(expanded(each_pluck(tone) + hiss(), RATE_HZ, most_db=12.0), RATE_HZ, most_db=8.0)
    gate = found_in(gated)
    held = Levelled(Samples(gated.astype(np.float32), len(gated)), RATE_HZ, gate.gain)
    level = held.read(0, len(held))
    true_db = [42 / t60_s for t60_s in T60_S]
    assert np.median([abs(lost_db(gated, k, 0.8) - lost) for k, lost in enumerate(true_db)]) > 5.0
    off_db = np.array([abs(lost_db(level, k, 0.8) - lost) for k, lost in enumerate(true_db)])
    assert np.median(off_db) < 1.5
    assert np.mean(off_db < gate.gain.doubt_db) >= 0.9


def test_a_pluck_too_short_to_see_leaves_its_doubt():
    gated = levels(expanded(each_pluck(tone) + hiss(), RATE_HZ))
    gate = find(gated, (0.5, 0.7, *ONSETS_S[1:]), (0.7, *ENDS_S), SETTINGS)
    assert gate.gain.doubt_db[0] == SETTINGS.unknown_db
