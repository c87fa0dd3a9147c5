"""Beats are measured as they are, and told apart from a neighbour that answers and from what is usual on a harp."""

from dataclasses import replace

import numpy as np
import pytest

from analyzer.bands import PluckBands
from analyzer.beat_fit import log_powers
from analyzer.beating import Beat, Beating, find_beats, follow
from analyzer.falseness import HeardBeats, judge
from analyzer.recording import Samples
from analyzer.settings import FalseSettings
from tests.synth import PLUCK_RMS, PluckSpec, pluck

RATE_HZ = 22050
SETTINGS = FalseSettings()


def beats(spec, seconds=4.0, seed=0):
    rng = np.random.default_rng(seed)
    sound, truth = pluck(spec, seconds, RATE_HZ, rng)
    lead_n = 8000
    whole = np.concatenate([np.zeros(lead_n), sound]) + PLUCK_RMS * 10**-2.5 * rng.standard_normal(lead_n + len(sound))
    bands = PluckBands(Samples(whole.astype(np.float32), len(whole)), RATE_HZ, lead_n / RATE_HZ, seconds, 0.3)
    partials_hz = tuple(p.frequency_hz for p in truth.partials[:6])
    return find_beats([follow(bands, partials_hz, seconds, SETTINGS)], SETTINGS)[0], truth


@pytest.mark.parametrize("rate_hz", [0.3, 0.7, 1.5, 3.0, 5.0])
@pytest.mark.parametrize("weaker_db", [-20.0, -10.0, -3.0])
def test_a_beat_reads_its_rate(rate_hz, weaker_db):
    """At 131 Hz the first partial rings 4.6 s: the slowest beat turns once in what is heard of it. It also glides."""
    spec = PluckSpec(f1_hz=131.0, split_hz=rate_hz, second_db=weaker_db, second_decay_ratio=1.1, glide_cents=3.0)
    found, _ = beats(spec)
    first = next(b for b in found.beats if b.number == 1)
    assert first.rate_hz == pytest.approx(rate_hz, abs=0.05)


def test_partials_of_a_false_string_are_equally_far_apart():
    found, _ = beats(PluckSpec(f1_hz=196.0, split_hz=1.2, second_db=-4.0))
    assert len(found.beats) >= 3
    split_cents = 1200 * np.log2(1 + 1.2 / 196.0)
    assert [b.split_cents for b in found.beats] == pytest.approx([split_cents] * len(found.beats), rel=0.1)


def test_a_single_tone_does_not_beat():
    for f1_hz in (82.0, 196.0, 523.0):
        found, _ = beats(PluckSpec(f1_hz=f1_hz, second_db=-np.inf, glide_cents=3.0))
        assert found.followed
        assert not found.beats


def heard(pitch_hz, split_cents=None, weaker_db=-5.0, law_scatter_cents=2.0, partials=(1, 2, 3)):
    rows = ()
    if split_cents is not None:
        rows = tuple(
            Beat(
                number=n,
                frequency_hz=n * pitch_hz,
                rate_hz=n * pitch_hz * (2 ** (split_cents / 1200) - 1),
                rate_u95_hz=0.02,
                weaker_db=weaker_db,
            )
            for n in partials
        )
    return HeardBeats(
        pitch_hz=pitch_hz,
        inharmonicity=0.0,
        law_scatter_cents=law_scatter_cents,
        beating=Beating(followed=(1, 2, 3, 4), beats=rows, most_hz=9.0),
    )


def harp():
    """A scale whose strings beat by 2 to 3 cents, as two real harps' do."""
    return [heard(196.0 * 2 ** (k / 6), 2.0 + 0.1 * (k % 10)) for k in range(16)]


def test_one_string_that_beats_far_more_than_the_others_is_false():
    strings = harp()
    strings[7] = heard(strings[7].pitch_hz, 9.0)
    judged = judge(tuple(strings), SETTINGS)
    assert judged[7].false_probability > 0.9
    assert judged[7].split_cents == pytest.approx(9.0, rel=0.01)
    assert all(j.false_probability < 0.1 for k, j in enumerate(judged) if k != 7)


def test_a_harp_whose_strings_all_beat_has_no_false_string():
    assert all(
        j.false_probability < 0.3 for j in judge(tuple(heard(196 * 2 ** (k / 6), 6.0) for k in range(16)), SETTINGS)
    )


def test_beats_that_differ_from_partial_to_partial_are_no_evidence():
    strings = harp()
    mixed = [
        heard(strings[7].pitch_hz, cents, partials=(n,)).beating.beats[0] for n, cents in ((1, 12), (2, 5), (3, 2))
    ]
    strings[7] = HeardBeats(
        pitch_hz=strings[7].pitch_hz,
        inharmonicity=0.0,
        law_scatter_cents=2.0,
        beating=Beating(followed=(1, 2, 3), beats=tuple(mixed), most_hz=9.0),
    )
    assert judge(tuple(strings), SETTINGS)[7].false_probability < 0.1


@pytest.mark.parametrize(("cents", "above"), [(40.0, True), (20.0, False), (100.0, False)])
def test_a_beat_of_the_first_partial_alone_counts_where_the_others_would_be_too_fast(cents, above):
    """40 cents at 196 Hz are 4.6 Hz, 9.2 at the second partial; 20 would show there, and do not; 100 is another."""
    strings = harp()
    strings[0] = heard(196.0, cents, partials=(1,))
    judged = judge(tuple(strings), SETTINGS)[0]
    assert (judged.false_probability >= SETTINGS.check_false) == above
    assert judged.false_probability < SETTINGS.call_false


def test_a_beat_of_the_only_partial_that_was_followed_is_no_split_of_the_string():
    strings = harp()
    strings[0] = heard(196.0, 40.0, partials=(1,))
    strings[0] = replace(strings[0], beating=replace(strings[0].beating, followed=(1,)))
    judged = judge(tuple(strings), SETTINGS)[0]
    assert (judged.false_probability, judged.split_cents, judged.beats) == (None, None, ())


def test_a_neighbour_that_would_sound_the_same_makes_it_doubtful():
    """An octave above, 9 cents sharp: its partials 1 and 2 lie a beat away from partials 2 and 4 of the string."""
    strings = harp()
    strings[3] = heard(strings[3].pitch_hz, 9.0, partials=(2, 4))
    alone = judge(tuple(strings), SETTINGS)[3]
    strings[9] = heard(strings[3].pitch_hz * 2 * 2 ** (9 / 1200), 2.0)
    answered = judge(tuple(strings), SETTINGS)[3]
    assert answered.answering == 9
    assert alone.answering is None
    assert answered.false_probability < SETTINGS.check_false < alone.false_probability


def test_partials_off_the_law_are_to_be_looked_at():
    strings = harp()
    strings[5] = heard(strings[5].pitch_hz, None, law_scatter_cents=12.0)
    judged = judge(tuple(strings), SETTINGS)[5]
    assert judged.off_law == pytest.approx(4.0)
    assert judged.false_probability < SETTINGS.call_false


def test_what_was_heard_too_briefly_is_not_judged():
    brief = HeardBeats(
        pitch_hz=3000.0,
        inharmonicity=None,
        law_scatter_cents=None,
        beating=Beating(followed=(1,), beats=(), most_hz=0.0),
    )
    judged = judge((*harp(), brief), SETTINGS)[-1]
    assert judged.false_probability is None
    assert "too few" in judged.reason


def test_the_derivatives_of_two_tones_are_those_of_their_power():
    """Against central differences (error of the order of the step squared)."""
    t_s, noise, step = np.linspace(0.0, 2.0, 150)[None], np.array([[1e-4]]), 1e-5
    x = np.array([[-2.0, 1.5, -0.7, 0.9, 0.4, 1.3]])
    _, exact = log_powers(x, t_s, noise)
    for k in range(x.shape[1]):
        moved = step * (np.arange(x.shape[1]) == k)
        (up, _), (down, _) = log_powers(x + moved, t_s, noise), log_powers(x - moved, t_s, noise)
        assert exact[0, k] == pytest.approx((up - down)[0] / (2 * step), rel=1e-5, abs=1e-6)


def test_the_logarithm_is_that_of_two_decaying_tones_and_noise():
    """Against the sum of two complex tones of amplitudes e^-1 and e^-1.7."""
    t_s = np.linspace(0.0, 2.0, 150)
    z = np.exp(-1.0 - 1.5 * t_s) + np.exp(-1.7 - 0.9 * t_s + 1j * (2 * np.pi * 1.3 * t_s + 0.4))
    logs, _ = log_powers(np.array([[-2.0, 1.5, -0.7, 0.9, 0.4, 1.3]]), t_s[None], np.array([[1e-4]]))
    assert logs[0] == pytest.approx(np.log(np.abs(z) ** 2 + 1e-4))


def test_plucks_looked_at_together_show_what_each_shows_alone():
    """But for where the fits start from: the grid of rates is that of the longest."""
    specs = [PluckSpec(f1_hz=hz, split_hz=split, second_db=-4.0) for hz, split in ((131.0, 0.7), (196.0, 1.2))]
    followed = []
    for spec, seconds in zip(specs, (4.0, 2.5), strict=True):
        sound, truth = pluck(spec, seconds, RATE_HZ, np.random.default_rng(0))
        whole = np.concatenate([np.zeros(8000), sound]).astype(np.float32)
        bands = PluckBands(Samples(whole, len(whole)), RATE_HZ, 8000 / RATE_HZ, seconds, 0.3)
        followed.append(follow(bands, tuple(p.frequency_hz for p in truth.partials[:6]), seconds, SETTINGS))
    together = find_beats(followed, SETTINGS)
    for alone, one in zip(followed, together, strict=True):
        expected = find_beats([alone], SETTINGS)[0]
        assert one.followed == expected.followed
        assert [b.number for b in one.beats] == [b.number for b in expected.beats]
        assert [b.rate_hz for b in one.beats] == pytest.approx([b.rate_hz for b in expected.beats], rel=1e-4)
