"""How notes and numbers are written."""

from dataclasses import replace

import pytest

from analyzer import words
from analyzer.spelling import typeset
from tests.example_survey import example_survey


def test_notes_are_written_as_people_read_them():
    assert [words.note(n) for n in ("Eb2", "B3", "Bb3", "F#4", "C10")] == ["E♭2", "B3", "B♭3", "F♯4", "C10"]


@pytest.mark.parametrize(
    ("value", "u95", "shown"),
    [
        # The rule's own example: 0.827 ± 0.119 is given as 0.83 ± 0.12, while 0.827 ± 0.367 turns into
        # 0.8 ± 0.4 (Particle Data Group, Review of Particle Physics, Introduction, 5.3 Rounding; from memory).
        (0.827, 0.119, ("0.83", "± 0.12")),
        (0.827, 0.367, ("0.8", "± 0.4")),
        (-101.4234, 3.2, ("−101.4", "± 3.2")),
        (-101.4234, 12.0, ("−101", "± 12")),
        (-101.4234, 43.0, ("−100", "± 40")),
        (-101.4234, 0.0004, ("−101.42", "± 0.01")),
        (-101.4234, None, ("−101", "")),
        (-0.0004, 0.2, ("0.00", "± 0.20")),
        (None, 1.0, ("", "")),
    ],
)
def test_a_figure_has_no_more_digits_than_its_interval_allows(value, u95, shown):
    assert words.measured(value, u95) == shown


@pytest.mark.parametrize(
    ("cents", "said"),
    [
        (-82.3, "82 cents"),
        (1.2, "1 cent"),
        (99.4, "99 cents"),
        (99.6, "1 semitone"),
        (-420, "4.2 semitones"),
    ],
)
def test_how_far_in_words(cents, said):
    assert words.amount(cents) == said


@pytest.mark.parametrize(
    ("p", "said"), [(0.64, "64 %"), (0.9999, "> 99 %"), (1.0, "100 %"), (0.001, "< 1 %"), (0.0, "0 %")]
)
def test_nothing_is_quite_certain(p, said):
    assert words.percent(p) == said


def test_lists_are_cut_where_they_get_long():
    assert words.listed([], 3) == ""
    assert words.listed(["C2"], 3) == "C2"
    assert words.listed(["C2", "D2", "E♭2"], 3) == "C2, D2 and E♭2"
    assert words.listed(["C2", "D2", "E♭2", "F2", "G2"], 3) == "C2, D2 and 3 more"


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("good to ± 0.4 cents (95 %).", "good to ±_0.4_cents (95_%)."),
        ("about the same amount (-12 cents)", "about the same amount (−12_cents)"),
        ("dull (94%); 1,6 Halbtöne, 5 Cent", "dull (94_%); 1,6_Halbtöne, 5_Cent"),
        ("A4 = 440 Hz, > 99 %, 1 min 5 s", "A4_=_440_Hz, >_99_%, 1_min 5_s"),
        ("C4 sounds, 3 strings; 2 so far; string 12 starts", "C4 sounds, 3_strings; 2 so far; string 12 starts"),
    ],
)
def test_a_figure_stays_with_its_unit(text, shown):
    assert typeset(text) == shown.replace("_", "\u00a0")


def test_lengths_of_time():
    assert [words.clock(s) for s in (9.6, 60.0, 112.4)] == ["10 s", "1 min 0 s", "1 min 52 s"]


def test_there_are_at_most_eight_words_to_explain():
    assert len(words.GLOSSARY_TERMS) <= 8


def test_states_differ_in_shape_and_in_word():
    assert len({state.shape for state in words.STATES.values()}) == len(words.STATES)
    assert len({state.word for state in words.STATES.values()}) == len(words.STATES)
    assert {words.state(row) for row in example_survey().strings} == set(words.STATES)


def test_no_beat_is_said_only_where_one_would_have_been_heard():
    """C4 beats in no partial. An older survey does not say whether any did; one may beat that has no row of its own."""
    row = next(r for r in example_survey().strings if r.string == "C4")
    assert words.beats(row) == "none heard"
    assert [words.beats(replace(row, beats_n=n)) for n in (None, 1)] == ["not known"] * 2
