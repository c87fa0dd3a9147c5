"""The pitch of synthetic plucks is found, its octaves are less likely, and what is no string is told from one.

The plucks, knocks and voices come from `tests.synth` and `tests.synth_sounds`, whose laws this stage does not share.
"""

import numpy as np
import pytest

from analyzer.evidence import Evidence, _octaves_told_apart, in_company, weigh
from analyzer.plucks import Pluck, find_onsets
from analyzer.recording import Samples
from analyzer.settings import EvidenceSettings, MatchSettings, PluckSettings
from tests import harp_notes
from tests.synth import PluckSpec, pluck
from tests.synth_sounds import case_knock, phone_channel, speech

RATE_HZ = 22050
LONGEST_S = 2.0
SETTINGS = EvidenceSettings()


def evidence_of(sound, *, at_s=1.0, noise_db=-75.0, before=None, phone=False):
    """Evidence of a sound that begins at `at_s` in quiet noise; `before` is what rang already."""
    rng = np.random.default_rng(2)
    samples = rng.normal(size=round((at_s + LONGEST_S + 0.5) * RATE_HZ)) * 10 ** (noise_db / 20)
    if before is not None:
        samples[: len(before)] += before[: len(samples)]
    start = round(at_s * RATE_HZ)
    samples[start : start + len(sound)] += sound[: len(samples) - start]
    if phone:
        samples = phone_channel(samples, RATE_HZ, highpass_hz=180.0)
    held = Samples(samples.astype(np.float32), len(samples))
    plucks = find_onsets(held, RATE_HZ, PluckSettings()).plucks
    nearest = min(plucks, key=lambda p: abs(p.onset_s - at_s))
    assert abs(nearest.onset_s - at_s) < 0.1
    return weigh(held, RATE_HZ, nearest, SETTINGS)


def plucked(f1_hz, seed=1, **spec):
    return pluck(PluckSpec(f1_hz=f1_hz, **spec), LONGEST_S, RATE_HZ, np.random.default_rng(seed))


def cents_from(evidence, hz):
    return 1200 * np.log2(np.array(evidence.pitches_hz) / hz)


@pytest.mark.parametrize("f1_hz", [34.0, 61.0, 98.0, 147.0, 262.0, 440.0, 880.0, 1660.0, 3000.0])
def test_the_likeliest_pitch_is_the_string_s(f1_hz):
    sound, note = plucked(f1_hz)
    evidence = evidence_of(sound)
    off = cents_from(evidence, note.pitch_hz)
    assert abs(off[0]) < 5.0
    assert abs(off[0]) < 3 * evidence.spread_cents[0]
    # the highest have died away within the span, so that their second half looks unsteady
    assert evidence.string_log_odds > (0.0 if f1_hz < 2500 else -1.0)


@pytest.mark.parametrize("phone", [False, True])
@pytest.mark.parametrize("f1_hz", [49.0, 61.0, 147.0, 262.0, 440.0, 880.0])
def test_a_string_an_octave_low_is_not_taken_for_the_octave_above(f1_hz, phone):
    """Odd partials sound, which a string an octave higher has not: that must outweigh how seldom a string is an octave
    low (one in 50, against others near their neighbours: e^6)."""
    sound, note = plucked(f1_hz, seed=6)
    evidence = evidence_of(sound, phone=phone)
    off, log = cents_from(evidence, note.pitch_hz), np.array(evidence.log_likelihoods)
    own, above = (log[abs(off - cents) < 45].max(initial=-99.0) for cents in (0.0, 1200.0))
    assert own - above > 7.0


@pytest.mark.parametrize("f1_hz", [625.0, 811.0, 843.0])
def test_a_faint_tone_an_octave_below_does_not_make_a_string_an_octave_low(f1_hz):
    """Rooms and coders leave such tones 22 to 32 dB below a string (heard on real ones). Wherever a string is plucked,
    some of its odd partials are louder: amplitudes go as sin(n·pi·p)/n² (Fletcher & Rossing, The Physics of Musical
    Instruments, 2.7, from memory)."""
    t_s = np.arange(round(LONGEST_S * RATE_HZ)) / RATE_HZ
    tones = ((0.5, -26.0), (1.0, 0.0), (2.0, -9.0))
    sound = sum(10 ** (db / 20) * np.sin(2 * np.pi * n * f1_hz * t_s) * np.exp(-3 * n * t_s) for n, db in tones)
    evidence = evidence_of(0.1 * sound, noise_db=-62.0)
    off, log = cents_from(evidence, f1_hz), np.array(evidence.log_likelihoods)
    own, below = (log[abs(off - cents) < 45].max(initial=-99.0) for cents in (0.0, -1200.0))
    assert own > below - 2.0  # how seldom strings are an octave low (one in 50: e^4) decides
    assert (np.diff(log) <= 0).all()


def test_the_fainter_the_odd_partials_the_less_likely_is_the_octave_below_up_to_a_point():
    s = SETTINGS
    odd_db = -s.octave_odd_db - np.array([-3.0, 4.0, s.octave_faint_db, s.octave_faint_db + 30.0])
    log = _octaves_told_apart(np.array([100.0, 130.0, 170.0, 220.0]), np.ones(4), odd_db, s)
    assert log == pytest.approx(-s.octave_faint_worth * np.array([0.0, 4.0, s.octave_faint_db, s.octave_faint_db]))


@pytest.mark.parametrize("f1_hz", [61.0, 82.0, 110.0])
def test_a_bass_string_plucked_again_while_it_rings_is_the_same_string(f1_hz):
    first, note = plucked(f1_hz)
    alone = evidence_of(first)
    again = evidence_of(0.8 * first, at_s=1.3, before=first)
    assert again.string_log_odds > 0.0
    assert abs(cents_from(again, note.pitch_hz)).min() < 10.0
    assert max(again.tones_db) > max(alone.tones_db) - 6.0


@pytest.fixture(scope="module")
def bass_notes(pytestconfig):
    """(nominal Hz, samples at RATE_HZ, peak 0.3) of a concert harp's bass strings (CC BY 3.0, see `harp_notes`), 1 to
    31 cents flat."""
    import soxr

    notes = harp_notes.notes_or_skip(pytestconfig)
    bass = []
    for name in ("E1", "G1", "D2", "F2", "A2", "C3", "E3"):
        sound = soxr.resample(notes[name], harp_notes.RATE_HZ, RATE_HZ)
        bass.append((harp_notes.TARGETS_HZ[name], 0.3 * sound / np.abs(sound).max()))
    return bass


@pytest.mark.parametrize("gap_s", [1.2, 1.7])
def test_a_real_bass_string_plucked_again_while_it_rings_is_the_same_string(bass_notes, gap_s):
    """Little of it is new: its partials stand where they stood and have only grown."""
    for hz, sound in bass_notes:
        again = evidence_of(0.7 * sound[: 2 * RATE_HZ], at_s=gap_s, before=sound, noise_db=-62.0)
        assert again.string_log_odds > 0.0, hz
        assert -40.0 < cents_from(again, hz)[0] < 10.0, hz


def test_a_knock_over_a_ringing_bass_string_is_not_that_string_again(bass_notes):
    for seed, (hz, sound) in enumerate(bass_notes):
        knock = 0.3 * case_knock(RATE_HZ, np.random.default_rng(seed))
        heard = evidence_of(knock, at_s=1.4, before=sound, noise_db=-62.0)
        assert heard.string_log_odds < 0.0 or abs(cents_from(heard, hz)[0]) > 50.0, hz


@pytest.mark.parametrize("f1_hz", [61.0, 147.0, 262.0, 440.0, 880.0])
def test_octave_rivals_are_kept_and_less_likely(f1_hz):
    sound, note = plucked(f1_hz, seed=4)
    evidence = evidence_of(sound)
    off, log = cents_from(evidence, note.pitch_hz), np.array(evidence.log_likelihoods)
    octaves = np.abs(np.abs(off) - 1200) < 40
    assert octaves.any()
    # one in seven or less: an octave is possible, not likely
    assert log[octaves].max() < log[np.abs(off) < 40].max() - 2.0


@pytest.mark.parametrize("f1_hz", [61.0, 82.0, 98.0])
def test_a_bass_string_whose_fundamental_the_phone_removes_is_still_named(f1_hz):
    sound, note = plucked(f1_hz)
    evidence = evidence_of(sound, phone=True)
    assert abs(cents_from(evidence, note.pitch_hz)[0]) < 10.0


@pytest.mark.parametrize("inharmonicity", [1e-5, 2e-4, 1e-3])
def test_a_stiff_string_s_first_partial_is_meant_not_the_mean_of_its_partials(inharmonicity):
    sound, note = plucked(196.0, inharmonicity=inharmonicity)
    assert abs(cents_from(evidence_of(sound), note.f1_hz)[0]) < 6.0


def test_what_rings_on_does_not_take_the_new_string_s_place():
    ringing, _ = pluck(PluckSpec(f1_hz=131.0, strength_db=3.0), 3.5, RATE_HZ, np.random.default_rng(5))
    sound, note = plucked(146.8, strength_db=-3.0)
    assert abs(cents_from(evidence_of(sound, before=ringing), note.pitch_hz)[0]) < 6.0


def test_a_knock_has_low_odds_of_being_a_string():
    odds = [evidence_of(0.3 * case_knock(RATE_HZ, np.random.default_rng(s))).string_log_odds for s in range(5)]
    strings = [evidence_of(plucked(f)[0]).string_log_odds for f in (98.0, 262.0, 880.0)]
    assert np.mean(odds) < 0.5
    assert max(odds) < min(strings)


def test_syllables_among_plucks_have_low_odds_of_being_strings():
    rng = np.random.default_rng(3)
    samples = rng.normal(size=RATE_HZ * 26) * 10 ** (-75 / 20)
    onsets_s = [1.0 + 2.4 * k for k in range(10) if k != 5]
    for k, at_s in enumerate(onsets_s):
        sound, _ = plucked(200.0 * 2 ** (k / 7), seed=k)
        samples[round(at_s * RATE_HZ) :][: len(sound)] += sound[: len(samples) - round(at_s * RATE_HZ)]
    spoken = 0.2 * speech(1.6, RATE_HZ, rng)
    samples[round(13.2 * RATE_HZ) :][: len(spoken)] += spoken
    held = Samples(samples.astype(np.float32), len(samples))
    plucks = find_onsets(held, RATE_HZ, PluckSettings()).plucks
    alone = tuple(weigh(held, RATE_HZ, p, SETTINGS) for p in plucks)
    odds = np.array([e.string_log_odds for e in in_company(plucks, alone, SETTINGS)])
    onsets = np.array([p.onset_s for p in plucks])
    is_string = np.abs(onsets[:, None] - np.array(onsets_s)).min(axis=1) < 0.1
    assert is_string.sum() == len(onsets_s)
    assert (~is_string).any()
    assert np.median(odds[is_string]) > 1.0
    assert odds[~is_string].max() < np.median(odds[is_string])
    assert np.median(odds[~is_string]) < 0.0


@pytest.mark.parametrize("f1_hz", [988.0, 1660.0])
def test_a_faint_high_string_is_one_however_many_peaks_the_noise_has(f1_hz):
    for seed in range(3):
        sound, note = plucked(f1_hz, seed=seed, strength_db=-5.0)
        evidence = evidence_of(sound, noise_db=-46.0)
        near = np.abs(cents_from(evidence, note.pitch_hz)) < 15.0
        assert near.any()
        assert np.array(evidence.log_likelihoods)[near].max() > -1.0
        assert evidence.string_log_odds > MatchSettings().odds_even + 0.5


def test_noise_is_no_string_and_has_no_pitch():
    rng = np.random.default_rng(1)
    samples = (rng.normal(size=RATE_HZ * 3) * 1e-3).astype(np.float32)
    event = Pluck(onset_s=1.0, end_s=2.0, strength_db=1.0, level_db=-60.0, rise_db=0.0)
    evidence = weigh(Samples(samples, len(samples)), RATE_HZ, event, SETTINGS)
    assert evidence.string_log_odds < -3.0


def test_an_event_at_either_end_of_the_recording_is_weighed():
    sound, note = plucked(440.0)
    samples = sound.astype(np.float32)
    held = Samples(samples, len(samples))
    for onset_s, end_s in ((0.0, 2.0), (1.9, 2.0)):
        event = Pluck(onset_s=onset_s, end_s=end_s, strength_db=10.0, level_db=-20.0, rise_db=20.0)
        evidence = weigh(held, RATE_HZ, event, SETTINGS)
        assert np.isfinite(evidence.string_log_odds)
    first = weigh(
        held, RATE_HZ, Pluck(onset_s=0.0, end_s=2.0, strength_db=10.0, level_db=-20.0, rise_db=20.0), SETTINGS
    )
    assert abs(cents_from(first, note.pitch_hz)[0]) < 6.0


def test_digital_silence_has_no_tone():
    event = Pluck(onset_s=0.5, end_s=1.0, strength_db=1.0, level_db=-90.0, rise_db=0.0)
    evidence = weigh(Samples(np.zeros(RATE_HZ, np.float32), RATE_HZ), RATE_HZ, event, SETTINGS)
    assert evidence.pitches_hz == ()
    assert evidence.string_log_odds == SETTINGS.no_tone_log_odds


def test_few_clear_plucks_are_no_company_to_judge_by():
    event = Pluck(onset_s=1.0, end_s=2.0, strength_db=3.0, level_db=-30.0, rise_db=15.0)
    alone = Evidence(
        pitches_hz=(440.0,),
        log_likelihoods=(0.0,),
        spread_cents=(3.0,),
        string_log_odds=3.0,
        tap_log_odds=-1.0,
        tones_db=(-30.0,),
    )
    assert in_company((event,), (alone,), SETTINGS) == (alone,)
