"""Tuning: keys as the circle of fifths has them, levers, pedals, targets of one's own, and the words for them."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.errors import UnusableInput
from analyzer.layout import load_layout
from analyzer.notes import cents
from analyzer.tuning import KEY_NAMES, Tuning, make_tuning, parse_key

LEVER = load_layout("lever-34")
PEDAL = load_layout("pedal-47")


def notes(tuning: Tuning) -> dict[str, str]:
    return {t.string: t.note for t in tuning.targets}


@pytest.mark.parametrize(
    ("key", "altered"),
    [
        ("C", ""),
        ("G", "F#"),
        ("D major", "F# C#"),
        ("F", "Bb"),
        ("B-flat", "Bb Eb"),
        ("Eb", "Bb Eb Ab"),
        ("E♭ major", "Bb Eb Ab"),
        ("E-flat", "Bb Eb Ab"),
        ("C minor", "Bb Eb Ab"),
        ("a minor", ""),
        ("F#", "F# C# G# D# A# E#"),
        ("C-flat", "Bb Eb Ab Db Gb Cb Fb"),
        ("C#", "F# C# G# D# A# E# B#"),
    ],
)
def test_keys_have_the_signatures_of_the_circle_of_fifths(key: str, altered: str) -> None:
    expected = {name[0]: {"b": -1, "#": 1}[name[1]] for name in altered.split()}
    assert {x: a for x, a in parse_key(key).accidentals.items() if a} == expected


@pytest.mark.parametrize("name", KEY_NAMES)
def test_every_key_is_read_back_from_its_name_and_agrees_with_librosa(name: str) -> None:
    import librosa

    key = parse_key(name)
    assert key.name == name
    mode = "min" if "minor" in name else "maj"
    tonic = name.removesuffix(" minor").replace("-flat", "b").replace("-sharp", "#")
    scale = {12 + librosa.note_to_midi(f"{x}0") % 12 + a for x, a in key.accidentals.items()}
    degrees = set(librosa.key_to_degrees(f"{tonic}:{mode}"))
    assert {n % 12 for n in scale} == degrees


@pytest.mark.parametrize(
    ("key", "sentence"),
    [
        ("E-flt", "unknown tuning 'E-flt'; .* Did you mean E-flat?"),
        ("H", "unknown tuning 'H'"),
        ("G-sharp", "unknown tuning 'G-sharp'"),
        ("", "unknown tuning ''"),
    ],
)
def test_an_unknown_key_is_refused_with_the_nearest(key: str, sentence: str) -> None:
    with pytest.raises(UnusableInput, match=sentence.replace("?", r"\?")):
        make_tuning(LEVER, key)


def test_a_lever_harp_in_e_flat_has_three_flats() -> None:
    tuning = make_tuning(LEVER, "E-flat")
    assert {s: n for s, n in notes(tuning).items() if n != s} == {
        s: f"{s[0]}b{s[1]}" for s in notes(tuning) if s[0] in "EAB"
    }
    # equal temperament from A4 = 440 Hz (ISO 16:1975), 440·2^(−30/12)
    assert {t.string: t.target_hz for t in tuning.targets}["E2"] == pytest.approx(77.7817, abs=5e-5)
    assert tuning.setting == "levers off, E-flat major, A4 = 440 Hz"
    assert (tuning.key, tuning.settled_by, tuning.stated) == ("E-flat", "default", ("key",))


def test_what_is_assumed_is_said_and_not_taken_for_stated() -> None:
    assert make_tuning(LEVER).setting == "levers off, E-flat major, A4 = 440 Hz"
    pedal = make_tuning(PEDAL)
    assert pedal.setting == (
        "pedals flat, C-flat major; C1, D1 and G7 (moved by no pedal) taken as C♭1, D♭1 and G♭7, A4 = 440 Hz"
    )
    # 47 strings tuned to C-flat: 30.868 to 2959.955 Hz (equal temperament)
    assert pedal.targets[0].target_hz == pytest.approx(30.868, abs=5e-4)
    assert pedal.targets[-1].target_hz == pytest.approx(2959.955, abs=5e-4)
    assert (make_tuning(LEVER).settled_by, pedal.settled_by) == ("default", "default")


def test_a_person_settles_it_by_saying_key_and_levers_or_the_pedals() -> None:
    assert make_tuning(LEVER, "E-flat", levers="off").settled_by == "person"
    assert make_tuning(LEVER, levers="off").settled_by == "default"
    assert make_tuning(PEDAL, pedals="flat").settled_by == "person"
    assert make_tuning(PEDAL, "C").settled_by == "default"


def test_levers_raise_their_strings_by_a_semitone() -> None:
    off = make_tuning(LEVER, "E-flat", levers="off")
    on = make_tuning(LEVER, "E-flat", levers="on")
    some = make_tuning(LEVER, "E-flat", levers="C4, third black from the top, A", a4_hz=442)
    for low, high in zip(off.targets, on.targets, strict=True):
        assert cents(high.target_hz, low.target_hz) == pytest.approx(100)
        assert (low.raised_semitones, high.raised_semitones) == (0, 1)
    # all levers of a harp in E-flat make E major (lever harps' practice: E-flat reaches E)
    assert {n[:-1] for n in notes(on).values()} == {"C#", "D#", "E", "F#", "G#", "A", "B"}
    assert (notes(some)["C4"], notes(some)["F4"], notes(some)["A5"], notes(some)["F5"]) == ("C#4", "F#4", "A5", "F5")
    assert some.setting == (
        "levers on for A2, A3, C4, F4, A4, A5 and A6, all others off, open strings in E-flat major, A4 = 442 Hz"
    )


@pytest.mark.parametrize(
    ("key", "pedals", "c4", "words", "by_hand"),
    [
        (None, "flat", "Cb4", "pedals flat, C-flat major", "C♭1, D♭1 and G♭7"),
        (None, "natural", "C4", "pedals natural, C major", "C1, D1 and G7"),
        ("C", None, "C4", "pedals natural, C major", "C1, D1 and G7"),
        ("C", "natural", "C4", "pedals natural, C major", "C1, D1 and G7"),
        ("Cb", "natural", "C4", "pedals natural, C major", "C♭1, D♭1 and G♭7"),
        (None, "sharp", "C#4", "pedals sharp, C-sharp major", "C♯1, D♯1 and G♯7"),
        ("F", None, "C4", "pedals set for F major", "C1, D1 and G7"),
        (None, "D C Bb | Eb F G A", "C4", "pedals set for B-flat major", "C1, D1 and G7"),
        (None, "D C# B E F G A", "C#4", "pedals D C# B | E F G A", "C♯1, D1 and G7"),
    ],
)
def test_pedals_set_every_string_of_their_letter(
    key: str | None, pedals: str | None, c4: str, words: str, by_hand: str
) -> None:
    tuning = make_tuning(PEDAL, key, pedals=pedals)
    assert notes(tuning)["C4"] == c4
    assert tuning.setting == f"{words}; C1, D1 and G7 (moved by no pedal) taken as {by_hand}, A4 = 440 Hz"
    raised = {t.string: t.raised_semitones for t in tuning.targets}
    assert raised["C4"] == {"Cb4": 0, "C4": 1, "C#4": 2}[c4]
    assert raised["C1"] == raised["D1"] == raised["G7"] == 0


def test_strings_off_the_pedals_are_only_those_the_harp_has() -> None:
    assert "moved by no pedal" not in make_tuning(load_layout("pedal-44"), "C", off_pedals=("C1",)).setting
    assert "D1 (moved by no pedal) taken as D1," in make_tuning(load_layout("pedal-44"), "C").setting


@pytest.mark.parametrize(
    ("layout", "key", "said", "sentence"),
    [
        (PEDAL, "F", {"pedals": "flat"}, "the tuning F and the pedals 'flat' contradict each other"),
        (PEDAL, "C", {"pedals": "sharp"}, "contradict"),
        (PEDAL, None, {"pedals": "flats"}, "pedals 'flats' cannot be read; .* Did you mean flat?"),
        (PEDAL, None, {"pedals": "D C B E F G"}, "cannot be read"),
        (PEDAL, None, {"pedals": "D C B E F G G"}, "cannot be read"),
        (PEDAL, None, {"pedals": "Dbb C B E F G A"}, "cannot be read"),
        (PEDAL, None, {"levers": "off"}, "levers were named, but pedal-47-C1-G7 has none"),
        (LEVER, None, {"pedals": "flat"}, "pedals were named, but lever-34-C2-A6 has none"),
        (LEVER, None, {"levers": "C9"}, "'C9' is not on this harp"),
        (LEVER, None, {"levers": ""}, "'' names no string"),
        (PEDAL, None, {"pedals": ""}, "pedals '' cannot be read"),
        (LEVER, None, {"a4_hz": 44.0}, "A4 = 44 Hz is out of range"),
        (LEVER, None, {"a4_hz": float("nan")}, "A4 = nan Hz is out of range"),
        (LEVER, None, {"own_targets": {"C4": "loud"}}, "the own target 'loud' of string C4 cannot be read"),
        (LEVER, None, {"own_targets": {"C4": "0 Hz"}}, "cannot be read"),
        (LEVER, None, {"own_targets": {"C4": "1.2.3 Hz"}}, "cannot be read"),
        (LEVER, None, {"own_targets": {"C4": "+99999999"}}, "cannot be read"),
        (LEVER, None, {"own_targets": {"C4": "-1300"}}, "1300 cents from C4; a target may be at most 1200"),
        (LEVER, None, {"own_targets": {"C4": "+1", "4C": "+2"}}, "string C4 is given two targets of its own"),
        (LEVER, None, {"own_targets": {"C1": "C1"}}, "'C1' is not on this harp"),
    ],
)  # fmt: skip
def test_contradictions_and_slips_are_refused_in_a_sentence(layout, key, said, sentence) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(UnusableInput, match=sentence.replace("?", r"\?")):
        make_tuning(layout, key, **said)


def test_strings_may_have_targets_of_their_own() -> None:
    own = {
        "C1": "Cb1",
        "third red from the bottom": "C3",
        "C4": "+12.5",
        "D4": "−3 cents",
        "E4": "329 Hz",
        "G4": "196 hz",
    }
    tuning = make_tuning(PEDAL, "C", own_targets=own)
    plain = {t.string: t.target_hz for t in make_tuning(PEDAL, "C").targets}
    targets = {t.string: t for t in tuning.targets}
    assert targets["C1"].note == "Cb1"
    assert cents(targets["C1"].target_hz, plain["C1"]) == pytest.approx(-100)
    assert cents(targets["C4"].target_hz, plain["C4"]) == pytest.approx(12.5)
    assert cents(targets["D4"].target_hz, plain["D4"]) == pytest.approx(-3)
    assert (targets["E4"].target_hz, targets["E4"].note, targets["G4"].note) == (329.0, "E4", "Gb4")
    assert tuning.setting.endswith("A4 = 440 Hz, own targets for C1, C3, C4, D4, E4 and G4")


def test_a_harp_without_levers_or_pedals_is_tuned_by_its_key() -> None:
    from dataclasses import replace

    tuning = make_tuning(replace(LEVER, kind="none"), "G")
    assert (tuning.setting, tuning.settled_by) == ("G major, A4 = 440 Hz", "person")


@settings(deadline=None)
@given(st.sampled_from(KEY_NAMES), st.floats(380, 480))
def test_targets_rise_along_the_harp_and_scale_with_the_reference(name: str, a4_hz: float) -> None:
    targets = [t.target_hz for t in make_tuning(LEVER, name, a4_hz=a4_hz).targets]
    assert targets == sorted(set(targets))
    at_440 = [t.target_hz for t in make_tuning(LEVER, name).targets]
    assert targets == pytest.approx([hz * a4_hz / 440 for hz in at_440])


@pytest.mark.parametrize(
    ("german", "english"),
    # Duden, "Tonart": the names of keys in German
    [("Es", "E-flat"), ("Es-Dur", "E-flat"), ("B-Dur", "B-flat"), ("H-Dur", "B"), ("fis-Moll", "F-sharp minor"),
     ("a-moll", "A minor"), ("Ces", "C-flat"), ("As-Dur", "A-flat"), ("B", "B"), ("E", "E")],
)  # fmt: skip
def test_keys_are_read_in_german_where_that_is_unmistakable(german: str, english: str) -> None:
    assert parse_key(german) == parse_key(english)
