"""Tuning: what each open string is set to, and the words that say so.

Task: from a key, a reference pitch and what is known of levers or pedals, the note and frequency of every
string.

Conventions: `key` is what the *open* strings are tuned to as the survey is taken: C, E-flat, F-sharp, C
minor, … A lever that is on raises its string by a semitone. A pedal harp is tuned to C-flat major with its
pedals flat; a pedal raises all strings of its letter by one semitone (natural) or two (sharp). A key alone on
a pedal harp is the key it sounds in, its pedals set for it. Equal temperament, unless a string has a target
of its own.

Assumed where nothing is said: lever harp in E-flat major with its levers off (the usual tuning), pedal harp
in C-flat major with its pedals flat. `Tuning.setting` states it in words a person can contradict, and
`settled_by` that it was assumed.

Strings that no pedal moves (usually C1, D1 and G7) are tuned by hand. They are taken in the key where one is
named, else as the pedals set their letter; the words name the notes taken.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from analyzer.errors import UnusableInput
from analyzer.layout import Layout
from analyzer.notes import (
    A4_HZ,
    ACCIDENTAL_PATTERN,
    LETTERS,
    Note,
    cents,
    in_words,
    nearest,
    parse_note,
    read_accidental,
    string_named,
)
from analyzer.settings import LayoutSettings

DEFAULT_KEY = {"lever": "E-flat", "pedal": "C-flat", "none": "C"}
"""Key of the open strings where the person says nothing."""
OFF_PEDALS = ("C1", "D1", "G7")
"""Strings that usually no pedal moves (C1 and D1: published for the 47-string harp; G7: common practice, no
source)."""
PEDALS = {"flat": -1, "natural": 0, "sharp": 1}

_DEFAULTS = LayoutSettings()
_ORDER_OF_SHARPS = "FCGDAEB"
_ACCIDENTAL_WORD = {-2: "-double-flat", -1: "-flat", 0: "", 1: "-sharp", 2: "-double-sharp"}
_KEY = re.compile(rf"([A-G]){ACCIDENTAL_PATTERN}[\s-]*(major|maj|minor|min|m)?", re.IGNORECASE)
_PEDAL = re.compile(rf"([A-G]){ACCIDENTAL_PATTERN}", re.IGNORECASE)
_OFFSET = re.compile(r"([+\-−][0-9.]+)(?:\s*(?:cents?|c))?", re.IGNORECASE)
_HERTZ = re.compile(r"([0-9.]+)\s*hz", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """What one string is to be tuned to."""

    string: str
    note: str
    """`Eb4`."""
    target_hz: float
    raised_semitones: int = 0
    """How far its lever or pedal raises it: that much shorter it sounds than the open string, at the same tension."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tuning:
    """The key of the open strings, the reference pitch, and how it was set, with every string's target."""

    key: str
    """`E-flat`, `C`, `F-sharp`, `C minor`."""
    a4_hz: float
    setting: str
    """Words a person can contradict: "levers off, E-flat major, A4 = 440 Hz"."""
    settled_by: Literal["person", "default"]
    """Whether the person stated the key and the levers or pedals, or the program assumed some of it."""
    targets: tuple[Target, ...]
    """Lowest string first, one for each string of the layout."""
    stated: tuple[Literal["key", "levers", "pedals"], ...] = ()
    """What the person stated."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """A key as its signature: the accidental of each letter."""

    name: str
    """`E-flat`; `C minor`."""
    words: str
    """`E-flat major`."""
    accidentals: Mapping[str, int]
    """Letter -> semitones."""


_GERMAN = re.compile(r"(es|as|des|ges|ces|fis|cis|gis|dis|ais|[a-h])(?:[\s-]*(dur|moll))?", re.IGNORECASE)
_GERMAN_TONICS = {
    **{"es": "E-flat", "as": "A-flat", "des": "D-flat", "ges": "G-flat", "ces": "C-flat", "b": "B-flat", "h": "B"},
    **{"fis": "F-sharp", "cis": "C-sharp", "gis": "G-sharp", "dis": "D-sharp", "ais": "A-sharp"},
}

_Notes = dict[str, tuple[Note, int]]
"""String -> its note, and by how many semitones its lever or pedal raises it."""


def parse_key(text: str) -> Key:
    """Read `E-flat`, `Eb`, `E♭ major`, `F#`, `C minor`, and in German `Es`, `Es-Dur`, `h-Moll`; minor is natural minor.

    Raises UnusableInput, with the nearest key, for what is no key of up to seven flats or sharps.
    """
    match = _KEY.fullmatch(_from_german(text.strip()))
    if match is not None:
        letter, word, sign, mode = match.groups()
        key = _key(letter.upper(), read_accidental(word, sign), minor=(mode or "").lower() in ("minor", "min", "m"))
        if key is not None:
            return key
    raise UnusableInput(
        f"unknown tuning {text!r}; name a key, as in C, E-flat, F-sharp or C minor.{nearest(text, KEY_NAMES)}"
    )


def _from_german(text: str) -> str:
    """A key named in German, in English; other texts as they are. A bare B or H is not taken for German."""
    match = _GERMAN.fullmatch(text)
    if match is None or (match[2] is None and len(match[1]) == 1):
        return text
    tonic = _GERMAN_TONICS.get(match[1].lower(), match[1])
    return f"{tonic} minor" if (match[2] or "").lower() == "moll" else tonic


def _key(letter: str, accidental: int, *, minor: bool) -> Key | None:
    """The key on that tonic, None where it would take more than seven flats or sharps."""
    fifths = _ORDER_OF_SHARPS.index(letter) - 1 + 7 * accidental - (3 if minor else 0)
    if abs(fifths) > 7:
        return None
    sharps = _ORDER_OF_SHARPS[: max(fifths, 0)]
    flats = _ORDER_OF_SHARPS[7 + min(fifths, 0) :]
    tonic = letter + _ACCIDENTAL_WORD[accidental]
    return Key(
        name=f"{tonic} minor" if minor else tonic,
        words=f"{tonic} {'minor' if minor else 'major'}",
        accidentals={x: (x in sharps) - (x in flats) for x in LETTERS},
    )


KEY_NAMES = tuple(
    key.name
    for minor in (False, True)
    for letter in LETTERS
    for accidental in (0, -1, 1)
    if (key := _key(letter, accidental, minor=minor)) is not None
)
"""All keys of up to seven flats or sharps."""


def make_tuning(
    layout: Layout,
    key: str | None = None,
    *,
    a4_hz: float = A4_HZ,
    levers: str | None = None,
    pedals: str | None = None,
    own_targets: Mapping[str, str] | None = None,
    off_pedals: tuple[str, ...] = OFF_PEDALS,
    settings: LayoutSettings = _DEFAULTS,
) -> Tuning:
    """Every string's target.

    `levers`: `off`, `on`, or the strings whose levers are on (`C4,F4`; a letter alone means all its strings).
    `pedals`: `flat`, `natural`, `sharp`, or the seven pedals (`D C Bb Eb F G A`). `own_targets`: string ->
    note (`Cb1`), offset (`+12.5` cents) or frequency (`261.3 Hz`). `off_pedals`: strings that no pedal moves;
    those the layout lacks are ignored. Raises UnusableInput for an unknown key or string, a reference out of
    range, levers on a harp without them, a key and pedals that contradict each other.
    """
    if not settings.a4_lowest_hz <= a4_hz <= settings.a4_highest_hz:
        raise UnusableInput(
            f"A4 = {a4_hz:g} Hz is out of range; give one from {settings.a4_lowest_hz:g} to"
            f" {settings.a4_highest_hz:g} Hz (440 is usual)."
        )
    if levers is not None and layout.kind != "lever":
        raise UnusableInput(f"levers were named, but {layout.name} has none (kind {layout.kind!r}); leave them out.")
    if pedals is not None and layout.kind != "pedal":
        raise UnusableInput(f"pedals were named, but {layout.name} has none (kind {layout.kind!r}); leave them out.")
    said = None if key is None else parse_key(key)
    if layout.kind == "pedal":
        used, notes, words = _pedal_notes(layout, said, pedals, off_pedals)
    else:
        used, notes, words = _lever_notes(layout, said or parse_key(DEFAULT_KEY[layout.kind]), levers)
    targets = [
        Target(string=s, note=str(n), target_hz=n.hz(a4_hz), raised_semitones=raised)
        for s, (n, raised) in notes.items()
    ]
    own: dict[str, str] = {}
    for words_for_it, text in (own_targets or {}).items():
        string = string_named(words_for_it, layout)
        if string in own:
            raise UnusableInput(f"string {string} is given two targets of its own, {own[string]!r} and {text!r}.")
        own[string] = text
    targets = [_own_target(t, own[t.string], a4_hz, settings) if t.string in own else t for t in targets]
    words += f", A4 = {a4_hz:g} Hz"
    if own:
        words += f", own targets for {in_words([t.string for t in targets if t.string in own])}"
    stated: dict[Literal["key", "levers", "pedals"], str | None] = {
        "key": key,
        "levers": levers,
        "pedals": pedals,
    }
    answers = tuple(name for name, answer in stated.items() if answer is not None)
    needed = {"lever": {"key", "levers"}, "pedal": {"pedals"}, "none": {"key"}}[layout.kind]
    return Tuning(
        key=used.name,
        a4_hz=a4_hz,
        setting=words,
        settled_by="person" if needed <= set(answers) else "default",
        targets=tuple(targets),
        stated=answers,
    )


def _lever_notes(layout: Layout, key: Key, levers: str | None) -> tuple[Key, _Notes, str]:
    """Key, note and raising of each string, and the words, for a harp with levers or with neither."""
    names = [s.string for s in layout.strings]
    on = _levers_on("off" if levers is None else levers, layout)
    notes = {}
    for name in names:
        bare = parse_note(name)
        raised = int(name in on)
        accidental = key.accidentals[bare.letter] + raised
        notes[name] = (Note(letter=bare.letter, accidental=accidental, octave=bare.octave), raised)
    if layout.kind == "none":
        return key, notes, key.words
    if not on:
        return key, notes, f"levers off, {key.words}"
    which = (
        "levers on"
        if len(on) == len(names)
        else f"levers on for {in_words([n for n in names if n in on])}, all others off"
    )
    return key, notes, f"{which}, open strings in {key.words}"


def _levers_on(levers: str, layout: Layout) -> set[str]:
    """The strings whose levers are on."""
    names = [s.string for s in layout.strings]
    match levers.strip().lower():
        case "off":
            return set()
        case "on":
            return set(names)
    word = levers.strip()
    if len(word) > 1 and word.isalpha() and (guess := nearest(word, ("off",))):  # "of" is nearer to it than to F6
        raise UnusableInput(
            f"levers {levers!r}: write off, on, or the strings whose levers are on, as in C4,F4.{guess}"
        )
    on: set[str] = set()
    for item in (part.strip() for part in levers.split(",")):
        if item.upper() in tuple(LETTERS):
            on.update(n for n in names if n[0] == item.upper())
        else:
            on.add(string_named(item, layout))
    return on


def _pedal_notes(
    layout: Layout, said: Key | None, pedals: str | None, off_pedals: tuple[str, ...]
) -> tuple[Key, _Notes, str]:
    """Key, note and raising of each string, and the words, for a pedal harp."""
    open_key = parse_key(DEFAULT_KEY["pedal"])
    set_to = (said or open_key).accidentals if pedals is None else _pedal_setting(pedals)
    key = said or _key_of(set_to) or open_key
    if said is not None and set_to != said.accidentals and said.accidentals != open_key.accidentals:
        raise UnusableInput(
            f"the tuning {said.name} and the pedals {pedals!r} contradict each other; give only the"
            f" pedals, or with them the key they make (or {open_key.name}, if that is the open tuning)."
        )
    by_hand = said.accidentals if said is not None else set_to
    notes = {}
    for s in layout.strings:
        bare = parse_note(s.string)
        off_pedal = s.string in off_pedals
        accidental = (by_hand if off_pedal else set_to)[bare.letter]
        raised = 0 if off_pedal else accidental - PEDALS["flat"]
        notes[s.string] = (Note(letter=bare.letter, accidental=accidental, octave=bare.octave), raised)
    words = _pedal_words(set_to)
    off = [s for s in notes if s in off_pedals]
    if off:
        words += f"; {in_words(off)} (moved by no pedal) taken as {in_words([_signed(notes[s][0]) for s in off])}"
    return key, notes, words


def _pedal_setting(pedals: str) -> dict[str, int]:
    """Letter -> accidental of the words for all pedals or for each of the seven."""
    word = pedals.strip().lower()
    if word in PEDALS:
        return dict.fromkeys(LETTERS, PEDALS[word])
    matches = [_PEDAL.fullmatch(part) for part in re.split(r"[\s,|]+", pedals.strip(" |,"))]
    found = {m[1].upper(): read_accidental(m[2], m[3]) for m in matches if m}
    if (
        None in matches
        or len(matches) != len(LETTERS)
        or len(found) != len(LETTERS)
        or max(map(abs, found.values())) > 1
    ):
        raise UnusableInput(
            f"pedals {pedals!r} cannot be read; say flat, natural, sharp or all seven: 'D C Bb Eb F G A'."
            + nearest(pedals, tuple(PEDALS))
        )
    return found


def _key_of(accidentals: Mapping[str, int]) -> Key | None:
    """The major key with these accidentals, if there is one."""
    majors = (parse_key(name) for name in KEY_NAMES if "minor" not in name)
    return next((key for key in majors if key.accidentals == accidentals), None)


def _pedal_words(set_to: Mapping[str, int]) -> str:
    """ "pedals natural, C major", or the seven pedals where they make no major key."""
    key = _key_of(set_to)
    for word, accidental in PEDALS.items():
        if key and set(set_to.values()) == {accidental}:
            return f"pedals {word}, {key.words}"
    if key:
        return f"pedals set for {key.words}"
    order = [letter + {-1: "b", 0: "", 1: "#"}[set_to[letter]] for letter in "DCBEFGA"]
    return f"pedals {' '.join(order[:3])} | {' '.join(order[3:])}"


def _own_target(target: Target, text: str, a4_hz: float, settings: LayoutSettings) -> Target:
    """`target` replaced by the person's own: a note, an offset in cents, or a frequency."""
    try:
        if match := _OFFSET.fullmatch(text.strip()):
            offset_cents = float(match[1].replace("−", "-"))
            note, target_hz = target.note, target.target_hz * 2 ** (offset_cents / 1200)
        elif match := _HERTZ.fullmatch(text.strip()):
            target_hz = float(match[1])
            note = _nearest_note(target.string, target_hz, a4_hz)
        else:
            own = parse_note(text)
            note, target_hz = str(own), own.hz(a4_hz)
        away_cents = abs(cents(target_hz, target.target_hz))
    except (UnusableInput, ValueError, OverflowError) as e:
        raise UnusableInput(
            f"the own target {text!r} of string {target.string} cannot be read; give a note (Cb1), an offset"
            " in cents (+12.5) or a frequency (261.3 Hz)."
        ) from e
    if away_cents > settings.own_target_limit_cents:
        raise UnusableInput(
            f"the own target {text!r} of string {target.string} is {away_cents:.0f} cents from {target.note};"
            f" a target may be at most {settings.own_target_limit_cents:.0f} cents away."
        )
    return replace(target, note=note, target_hz=target_hz)


def _nearest_note(string: str, target_hz: float, a4_hz: float) -> str:
    """The flat, natural or sharp of the string's letter that is nearest to a frequency."""
    bare = parse_note(string)
    if target_hz <= 0:
        raise ValueError("a frequency is above zero")
    choices = [Note(letter=bare.letter, accidental=a, octave=bare.octave) for a in PEDALS.values()]
    return str(min(choices, key=lambda n: abs(cents(target_hz, n.hz(a4_hz)))))


def _signed(note: Note) -> str:
    """The note as people write it: `C♭1`."""
    return str(note).replace("b", "♭").replace("#", "♯")
