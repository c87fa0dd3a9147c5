"""Notes against the published pitch tables, librosa, and the harp's own octave numbers."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.errors import UnusableInput
from analyzer.layout import load_layout
from analyzer.notes import LETTERS, Note, cents, from_harp_octave, harp_octave, parse_note, string_named
from analyzer.spelling import note as written

NOTES = st.builds(
    Note,
    letter=st.sampled_from(LETTERS),
    accidental=st.integers(-2, 2),
    octave=st.integers(0, 9),
)


@pytest.mark.parametrize(
    ("text", "note"),
    [
        ("Eb4", "Eb4"),
        ("E-flat 4", "Eb4"),
        ("E flat 4", "Eb4"),
        ("E♭4", "Eb4"),
        ("eb4", "Eb4"),
        ("b4", "B4"),
        ("bb4", "Bb4"),
        ("F#3", "F#3"),
        ("F♯3", "F#3"),
        ("F-sharp3", "F#3"),
        ("C4", "C4"),
        (" C natural 4 ", "C4"),
        ("Gbb2", "Gbb2"),
        ("Gx2", "G##2"),
    ],
)
def test_notes_are_read_as_people_write_them(text: str, note: str) -> None:
    assert str(parse_note(text)) == note


@pytest.mark.parametrize("text", ["", "4", "H4", "C", "C-1", "C10", "Cb#4", "C4 4", "C٤"])
def test_what_is_no_note_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(UnusableInput, match="as in C4, Eb4 or F#3"):
        parse_note(text)


@pytest.mark.parametrize(
    ("note", "hz"),
    [
        # Equal temperament from A4 = 440 Hz (ISO 16:1975); the Cs also in the CRC Handbook's table "Musical Scales"
        # (C2 65.406, C4 261.63, C6 1046.50)
        ("Cb1", 30.868),
        ("C1", 32.703),
        ("G1", 48.999),
        ("C2", 65.406),
        ("G2", 97.999),
        ("C3", 130.813),
        ("G3", 195.998),
        ("C4", 261.626),
        ("Eb4", 311.127),
        ("A4", 440.0),
        ("C5", 523.251),
        ("C6", 1046.502),
        ("C7", 2093.005),
        ("Gb7", 2959.955),
        ("G7", 3135.963),
    ],
)
def test_frequencies_agree_with_published_tables(note: str, hz: float) -> None:
    assert parse_note(note).hz() == pytest.approx(hz, abs=0.0006)


def test_cents_agree_with_published_examples() -> None:
    # GNU Emacs Calc manual, "Musical Notes": 500 Hz is B4 + 21.3094853649 cents
    assert cents(500, parse_note("B4").hz()) == pytest.approx(21.3094853649, abs=1e-9)
    # 1200·log2 of the ratio, computed by hand
    assert cents(441, 440) == pytest.approx(3.930, abs=5e-4)
    assert cents(442, 440) == pytest.approx(7.851, abs=2e-3)
    # ISO 16:1975 tolerance of ±0.5 Hz (from memory) as cents
    assert cents(440.5, 440) == pytest.approx(1.97, abs=0.01)


@pytest.mark.parametrize("bad", [(0.0, 440.0), (440.0, -1.0)])
def test_cents_of_no_frequency_is_an_error(bad: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="above zero"):
        cents(*bad)


@settings(deadline=None)
@given(NOTES)
def test_a_note_is_read_back_from_what_it_prints(note: Note) -> None:
    assert parse_note(str(note)) == note
    assert parse_note(written(str(note))) == note


def test_midi_and_frequency_agree_with_librosa() -> None:
    import librosa

    for letter in LETTERS:
        for accidental in (-1, 0, 1):
            for octave in range(10):
                note = Note(letter=letter, accidental=accidental, octave=octave)
                assert note.midi == librosa.note_to_midi(str(note))
                assert note.hz(442.0) == pytest.approx(librosa.note_to_hz(str(note)) * 442 / 440)
                assert note.midi == pytest.approx(librosa.hz_to_midi(note.hz()))


@pytest.mark.parametrize(
    ("string", "name"),
    [
        # a harp technician's guide: octaves run E down to F, 1 at the top; the pair above is 0
        ("G7", "0G"),
        ("F7", "0F"),
        ("E7", "1E"),
        ("F6", "1F"),
        ("E6", "2E"),
        ("C4", "4C"),
        ("C3", "5C"),
        ("A2", "5A"),
        ("G2", "5G"),
        ("C2", "6C"),
        ("C1", "7C"),
    ],
)
def test_harp_octaves_as_a_technicians_guide_has_them(string: str, name: str) -> None:
    assert harp_octave(string) == name
    assert from_harp_octave(int(name[:-1]), name[-1]) == string


@settings(deadline=None)
@given(st.sampled_from(LETTERS), st.integers(0, 6))
def test_harp_octaves_are_read_back(letter: str, octave: int) -> None:
    name = harp_octave(f"{letter}{octave}")
    assert from_harp_octave(int(name[:-1]), name[-1]) == f"{letter}{octave}"


@pytest.mark.parametrize(
    ("words", "string"),
    [
        ("C4", "C4"),
        ("eb4", "E4"),
        ("5C", "C3"),
        ("5th octave C", "C3"),
        ("the fifth-octave C", "C3"),
        ("first red from the top", "C6"),
        ("Third red from the top", "C4"),
        ("2nd black from the bottom", "F3"),
        ("2nd blue string from bottom", "F3"),
        ("string 1", "A6"),
        ("string 12", "D5"),
        ("string 3 from the bottom", "E2"),
        ("third string from the bottom", "E2"),
        ("first from the top", "A6"),
    ],
)
def test_strings_are_found_by_the_names_people_give_them(words: str, string: str) -> None:
    assert string_named(words, load_layout("lever-34")) == string


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ("C1", "'C1' is not on this harp: lever-34-C2-A6 has C2 to A6. Did you mean C2?"),
        ("tenth red from the top", "'tenth red from the top' is not on this harp"),
        ("string 35", "'string 35' is not on this harp"),
        ("string 0", "'string 0' is not on this harp"),
        ("C4x", "'C4x' names no string; .* Did you mean C4?"),
        ("", "'' names no string"),
    ],
)
def test_a_string_not_found_is_named_with_the_nearest(words: str, sentence: str) -> None:
    with pytest.raises(UnusableInput, match=sentence.replace("?", r"\?")):
        string_named(words, load_layout("lever-34"))
