"""What is said of single strings and of the whole, where the reading leaves two strings or contradicts the person."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from analyzer.doubts import WholeHarp
from analyzer.hearing import HeardPluck
from analyzer.judging import Chosen
from analyzer.layout import load_layout
from analyzer.pitch import Pitch
from analyzer.plucks import Pluck
from analyzer.remarks import contradictions, string_remarks
from analyzer.request import Request
from analyzer.settings import Settings
from analyzer.tuning import make_tuning

HARP = load_layout("lever-34")
REQUEST = Request(recordings=(Path("harp.m4a"),), layout=HARP, tuning=make_tuning(HARP, "E-flat", levers="off"))
NOTHING = WholeHarp(doubts=(), a4_that_fits_hz=None, remarks=(), raised=(), lowered=(), others_off=False)
D2, E2 = 1, 2


def heard(also, hz):
    return HeardPluck(
        pluck=Pluck(onset_s=1.0, end_s=3.0, strength_db=20.0, level_db=-20.0, rise_db=20.0),
        usable_s=2.0,
        string=D2,
        confidence=0.57,
        also=also,
        posterior=also,
        slip=False,
        string_log_odds=3.0,
        first_hz=hz,
        pitch=Pitch(
            pitch_hz=hz, cents_u95=0.7, inferred=False, inharmonicity=None, law_scatter_cents=None, partials=()
        ),
        other_octave=0.0,
        decay=None,
        beating=None,
        rattle=None,
    )


def said_of(k, chosen=None, taken=None):
    return string_remarks(k, REQUEST, chosen, None, NOTHING, None, 0.0, None, taken, Settings())


def test_both_readings_of_a_pluck_have_their_figures():
    # D2 is 73.416 Hz and E-flat 2 77.782 Hz in equal temperament from A4 = 440 Hz: a semitone apart
    hz = 73.416 * 2 ** (-92.6 / 1200)
    said = said_of(D2, Chosen(part=0, heard=heard(((E2, 0.43),), hz), others=()))
    assert said[:2] == (
        "This pluck may also be E2 (43%); the figures are for D2 (57%).",
        "As E2 it stands at -192.6 cents.",
    )
    assert 1200 * math.log2(hz / 77.782) == pytest.approx(-192.6, abs=0.05)


def test_a_string_whose_sound_was_perhaps_taken_for_another_says_so():
    assert said_of(E2, taken=("D2", 0.46)) == (
        "No pluck belongs to it: missing, broken or skipped, or its sound was taken for D2 (46%).",
    )


@pytest.mark.parametrize(
    ("missing", "unheard", "told"),
    [
        (frozenset(), ("E5",), "You said that no string is missing, but E5 was not heard: passed over, or"),
        ({"F6"}, ("E5", "F6"), "You said that no other string is missing, but E5 was not heard: passed over, or"),
        (frozenset(), ("E5", "F6"), "You said that no string is missing, but E5 and F6 were not heard: passed over,"),
        ({"E5"}, ("E5",), None),
        (None, ("E5",), None),
    ],
)
def test_a_string_not_heard_that_was_said_to_be_there_is_told(missing, unheard, told):
    said = contradictions(replace(REQUEST, missing=missing), [], unheard, Settings())
    assert [text[: len(told or "")] for text in said] == ([told] if told else [])


def test_of_a_few_strings_recorded_again_the_others_are_not_missed():
    few = replace(REQUEST, missing=frozenset(), first="C4", last="E4")
    assert contradictions(few, [], ("C2", "E5"), Settings()) == ()
    assert len(contradictions(few, [], ("C2", "D4"), Settings())) == 1
    named = replace(REQUEST, missing=frozenset(), only=frozenset({"G6", "C5"}))
    assert contradictions(named, [], ("C2", "E5"), Settings()) == ()
    assert "G6 was not heard" in contradictions(named, [], ("C2", "G6"), Settings())[0]
