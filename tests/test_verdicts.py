"""Figures become the right word, and sentences that carry them."""

from dataclasses import replace

import pytest

from analyzer.beating import Beat
from analyzer.condition import Condition
from analyzer.decay import Decay
from analyzer.falseness import Falseness
from analyzer.loss import AgainstReference, WholeDamping
from analyzer.rattle import Rattle
from analyzer.restating import restated
from analyzer.settings import Settings
from analyzer.speech import Manner, speaking
from analyzer.verdicts import evidence, rattle_sentences, verdict, whole_sentences
from tests.example_survey import example_survey as example

SETTINGS = Settings()
SOUND = Condition(
    dull_probability=0.02,
    departure=0.05,
    departure_u95=0.3,
    expected_decay_s=2.4,
    brightness_db=-9.0,
    partials_used=8,
    reason="",
)
DULL = replace(SOUND, dull_probability=0.93, departure=0.74)
UNKNOWN = replace(
    SOUND, dull_probability=None, departure=None, departure_u95=None, reason="the next sound came too soon"
)
CLEAR = Falseness(
    false_probability=0.02,
    split_cents=None,
    usual_cents=2.5,
    beats=(),
    answering=None,
    off_law=1.0,
    reason="",
)
BEATING = replace(
    CLEAR,
    false_probability=0.95,
    split_cents=9.0,
    beats=tuple(
        Beat(number=n, frequency_hz=200.0 * n, rate_hz=1.04 * n, rate_u95_hz=0.01, weaker_db=-4.0) for n in (1, 2, 3)
    ),
)


def rings(decay_s, u95_s=0.1):
    return Decay(decay_s=decay_s, decay_u95_s=u95_s, cut=False, partials=(), curve_db=(), level_db=-20.0, reason="")


@pytest.mark.parametrize(
    ("status", "doubtful", "condition", "falseness", "word"),
    [
        ("heard", False, SOUND, CLEAR, "sound"),
        ("heard", False, DULL, CLEAR, "dull"),
        ("heard", False, SOUND, BEATING, "false"),
        ("heard", False, DULL, BEATING, "false"),
        ("heard", False, DULL, replace(BEATING, false_probability=0.7), "dull"),
        ("heard", False, UNKNOWN, BEATING, "false"),
        ("heard", False, UNKNOWN, CLEAR, "cannot judge"),
        ("heard", False, None, None, "cannot judge"),
        ("heard", True, SOUND, CLEAR, "check by hand"),
        ("heard", False, replace(SOUND, dull_probability=0.4), CLEAR, "check by hand"),
        ("heard", False, SOUND, replace(BEATING, false_probability=0.4), "check by hand"),
        ("uncertain", False, DULL, CLEAR, "cannot judge"),
        ("not heard", False, None, None, "cannot judge"),
    ],
)
def test_words(status, doubtful, condition, falseness, word):
    assert verdict(status, doubtful, condition, falseness, SETTINGS) == word


def test_sentences_carry_the_figures():
    assert evidence(SOUND, CLEAR, rings(2.3), [], SETTINGS) == ()
    assert evidence(DULL, CLEAR, rings(1.1), [], SETTINGS) == (
        "Its 8 partials die away 2.1 times (1.6 to 2.8) as fast as the other strings lead one to expect; it rings 1.1 s"
        " where 2.4 s are usual here: dull (93%); replace when money allows.",
    )
    for rings_s in (2.6, 1.6):  # 1.6 s is 1.5 times as short, less than the interval's 1.6 at least
        assert (
            f", though as a whole it rings {rings_s} s where 2.4 s"
            in evidence(DULL, CLEAR, rings(rings_s), [], SETTINGS)[0]
        )
    # 1.1 s that may be 0 or 2.3 are no figure to hold against what is usual
    assert evidence(DULL, CLEAR, rings(1.1, 1.2), [], SETTINGS) == (
        "Its 8 partials die away 2.1 times (1.6 to 2.8) as fast as the other strings lead one to expect: dull (93%);"
        " replace when money allows.",
    )
    assert evidence(UNKNOWN, None, None, [], SETTINGS) == ("Dullness cannot be judged: the next sound came too soon.",)
    assert evidence(SOUND, replace(BEATING, answering=1), rings(2.3), ["C4", "C5"], SETTINGS) == (
        "Its partials 1, 2 and 3 beat 1.04 to 3.12 times a second, each two tones 9.0 cents apart where 2.5 are"
        " usual here, the weaker 4 dB below the other: a false string (95%).",
        "String C5 answering would sound the same: damp all other strings, pluck it again and listen.",
    )
    alone = replace(BEATING, beats=BEATING.beats[:1], false_probability=0.37)
    assert evidence(SOUND, alone, rings(2.3), [], SETTINGS) == (
        "Its partial 1 beats 1.04 times a second, two tones 9.0 cents apart where 2.5 are usual here, the weaker 4 dB"
        " below the other: it may be a false string (37%).",
    )
    assert "look for a kink" in evidence(SOUND, replace(CLEAR, off_law=4.2), rings(2.3), [], SETTINGS)[0]


def test_an_old_harp_is_said_to_be_one():
    fresh = WholeDamping(typical_loss=0.001, high=False)
    assert whole_sentences(fresh, None, None, [], False, SETTINGS) == ()
    old = whole_sentences(WholeDamping(typical_loss=0.0045, high=True), None, None, [], False, SETTINGS)
    assert "0.0045" in old[0]


def test_a_reference_is_named_with_figures_and_with_what_rooms_and_recorders_may_explain():
    reference = example()
    named = f"{reference.title} of {reference.date}"
    twice = AgainstReference(ratio=2.0, low=1.8, high=2.2, strings_n=30, more=(1,))
    fresh = WholeDamping(typical_loss=0.001, high=False)
    said = whole_sentences(fresh, twice, reference, ["C2", "D2"], True, SETTINGS)
    assert named in said[0]
    assert "2.00 times (1.80 to 2.20)" in said[0]
    assert "may all be old" in said[0]
    assert said[1].endswith("reference: D2.")
    assert "turned by the recorder itself in this" in said[2]
    alike = replace(twice, ratio=1.1, low=1.0, high=1.2, more=())
    (said,) = whole_sentences(fresh, alike, reference, ["C2", "D2"], False, SETTINGS)[:1]
    assert "old" not in said
    assert "another room or recorder may explain" in said
    assert "Too few" in whole_sentences(fresh, None, reference, [], False, SETTINGS)[0]


def test_a_rattle_is_said_with_its_figures_and_that_in_german():
    rattle = Rattle(
        held_db=5.2, held_s=0.21, fell_db=17.4, stopped_s=0.43, locked_db=24.0, locked_to=1.0, from_hz=1500.0
    )
    (sentence,) = rattle_sentences(rattle)
    assert "above 1500 Hz" in sentence
    assert "until 0.2 s and has fallen by 17 dB at 0.4 s" in sentence
    assert rattle_sentences(None) == ()
    with speaking(Manner(language="de")):
        said = restated(sentence)
        assert not said.english
        assert "0,4 s" in said.text
