"""Note names, frequencies, the harp's own octave numbers, and the names people give to strings.

Conventions: scientific pitch notation (A4 is MIDI note 69, C4 is 60); equal temperament,
f = a4·2^((m − 69)/12) with a4 = 440 Hz by default (ISO 16:1975); cents = 1200·log2(f2/f1).
A *string* is named by letter and octave without accidental (`E4`), the *note* it is tuned to with it (`Eb4`).

Harpists number octaves from 1 at the top, each running from E down to F, so that E7 is 1E, F6 is 1F, C3 is 5C
and F7 and G7 at the very top are 0F and 0G (a harp technician's guide). "C5" and "5C" are different strings:
`C5` is always read as scientific pitch notation here, and `5C` as the harp's.
"""

import difflib
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from analyzer.errors import UnusableInput

if TYPE_CHECKING:
    from analyzer.layout import Layout

LETTERS = "CDEFGAB"
A4_HZ = 440.0
"""ISO 16:1975."""

_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_MIDI_A4 = 69
_STEP_E7 = 7 * 7 + LETTERS.index("E")
_WRITTEN = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}
_PRETTY = {-2: "♭♭", -1: "♭", 0: "", 1: "♯", 2: "♯♯"}
_READ = {"flat": -1, "sharp": 1, "natural": 0, "♮": 0, "x": 2} | {
    text: accidental for table in (_WRITTEN, _PRETTY) for accidental, text in table.items()
}
ACCIDENTAL_PATTERN = r"(?:[\s-]*(flat|sharp|natural)|\s*(b{1,2}|#{1,2}|♭{1,2}|♯{1,2}|x|♮))?"
"""An accidental as people write it, in two groups: the word, or the sign."""
_NOTE = re.compile(rf"([A-G]){ACCIDENTAL_PATTERN}\s*([0-9])", re.IGNORECASE)

_ORDINALS = (
    *("first", "second", "third", "fourth", "fifth", "sixth"),
    *("seventh", "eighth", "ninth", "tenth", "eleventh", "twelfth"),
)
_COUNT = rf"({'|'.join(_ORDINALS)}|[0-9]{{1,2}}(?:st|nd|rd|th)?)"
_FROM = r"\s+from\s+(?:the\s+)?(top|bottom)"
_BY_COLOUR = re.compile(rf"(?:the\s+)?{_COUNT}\s+(red|black|blue)(?:\s+string)?{_FROM}")
_BY_PLACE = re.compile(rf"(?:the\s+)?{_COUNT}(?:\s+string)?{_FROM}")
_BY_NUMBER = re.compile(rf"(?:string|no\.?|number)\s*([0-9]{{1,2}})(?:{_FROM})?")
_BY_OCTAVE = re.compile(rf"(?:the\s+)?(?:(?P<short>[0-9]{{1,2}})|{_COUNT}[\s-]+octave)\s*(?P<letter>[a-g])")


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A note in scientific pitch notation; `str` gives the plain form `Eb4`."""

    letter: str
    """`A` to `G`."""
    accidental: int
    """Semitones: −2 to 2."""
    octave: int
    """4 is the octave of middle C."""

    def __str__(self) -> str:
        return f"{self.letter}{_WRITTEN[self.accidental]}{self.octave}"

    @property
    def midi(self) -> int:
        """MIDI note number; C4 is 60."""
        return 12 * (self.octave + 1) + _SEMITONES[self.letter] + self.accidental

    @property
    def step(self) -> int:
        """White keys above C0: neighbouring strings differ by one."""
        return 7 * self.octave + LETTERS.index(self.letter)

    def hz(self, a4_hz: float = A4_HZ) -> float:
        """Frequency in equal temperament, Hz."""
        return float(a4_hz * 2.0 ** ((self.midi - _MIDI_A4) / 12))


def read_accidental(word: str | None, sign: str | None) -> int:
    """Semitones of an accidental from the two groups of `ACCIDENTAL_PATTERN`."""
    return _READ[(word or sign or "").lower()]


def parse_note(text: str) -> Note:
    """Read `Eb4`, `E♭4`, `E-flat 4`, `F#3`, `C4`.

    Raises UnusableInput when it is not a note with its octave (0 to 9).
    """
    match = _NOTE.fullmatch(text.strip())
    if match is None:
        raise UnusableInput(f"{text!r} is not a note; write letter, accidental and octave, as in C4, Eb4 or F#3.")
    letter, word, sign, octave = match.groups()
    return Note(letter=letter.upper(), accidental=read_accidental(word, sign), octave=int(octave))


def note_at_step(step: int) -> Note:
    """The natural note that many white keys above C0."""
    return Note(letter=LETTERS[step % 7], accidental=0, octave=step // 7)


def cents(f_hz: float, target_hz: float) -> float:
    """Interval from `target_hz` up to `f_hz`, cents. Raises ValueError unless both are above zero."""
    if f_hz <= 0 or target_hz <= 0:
        raise ValueError(f"frequencies must be above zero, got {f_hz} and {target_hz}")
    return 1200 * math.log2(f_hz / target_hz)


def harp_octave(string: str) -> str:
    """The harp's own name of a string: `C3` is `5C`, `E7` is `1E`, `G7` is `0G`.

    Octave = floor((E7 − note)/7 white keys) + 1.
    """
    note = parse_note(string)
    return f"{(_STEP_E7 - note.step) // 7 + 1}{note.letter}"


def from_harp_octave(octave: int, letter: str) -> str:
    """The string that harpists call `octave` and `letter`: 5 and `C` give `C3`."""
    top_step = _STEP_E7 - 7 * (octave - 1)
    return str(note_at_step(top_step - (LETTERS.index("E") - LETTERS.index(letter)) % 7))


def nearest(text: str, known: Sequence[str]) -> str:
    """' Did you mean …?' with the most similar of `known`, or an empty text when none is similar."""
    by_lower = {name.lower(): name for name in known}
    found = difflib.get_close_matches(text.strip().lower(), list(by_lower), n=1, cutoff=0.5)
    return f" Did you mean {by_lower[found[0]]}?" if found else ""


def string_named(text: str, layout: "Layout") -> str:
    """The string of `layout` that a person means.

    Reads `C4` (an accidental is ignored: it is the same string), `5C` or `fifth-octave C` (the harp's
    octaves), `third red from the top`, `2nd black from the bottom`, `string 12` (from the top),
    `string 3 from the bottom`.
    Raises UnusableInput, with the nearest string, when the words name none of the layout's.
    """
    names = [s.string for s in layout.strings]
    words = " ".join(text.lower().split())
    span = f"{layout.name} has {names[0]} to {names[-1]}"
    if _NOTE.fullmatch(words):
        note = parse_note(words)
        found: str | None = f"{note.letter}{note.octave}"
    elif match := _BY_OCTAVE.fullmatch(words):
        octave = match["short"] or match[2]
        found = from_harp_octave(_count(octave), match["letter"].upper())
    elif match := _BY_COLOUR.fullmatch(words):
        colour = {"blue": "black"}.get(match[2], match[2])
        coloured = [s.string for s in layout.strings if {"blue": "black"}.get(s.colour, s.colour) == colour]
        found = _counted(coloured, _count(match[1]), match[3])
    elif match := _BY_PLACE.fullmatch(words):
        found = _counted(names, _count(match[1]), match[2])
    elif match := _BY_NUMBER.fullmatch(words):
        found = _counted(names, int(match[1]), match[2] or "top")
    else:
        raise UnusableInput(
            f"{text!r} names no string; write C4, 5C, 'third red from the top' or 'string 12';"
            f" {span}.{nearest(text, names)}"
        )
    if found not in names:
        same = [n for n in names if found and n[0] == found[0]]
        near = min(same, key=lambda n: abs(int(n[1:]) - int(found[1:])), default=None) if found else None
        hint = f" Did you mean {near}?" if near else ""
        raise UnusableInput(f"{text!r} is not on this harp: {span}.{hint}")
    return found


def _count(word: str) -> int:
    """`third`, `3rd` or `3` as 3."""
    return _ORDINALS.index(word) + 1 if word in _ORDINALS else int(re.sub(r"[a-z]+$", "", word))


def _counted(names: Sequence[str], count: int, end: str) -> str | None:
    """The `count`-th of names (lowest first) from the top or the bottom, None when there are fewer."""
    if not 1 <= count <= len(names):
        return None
    return names[-count] if end == "top" else names[count - 1]


def in_words(names: Sequence[str]) -> str:
    """`C4, F4 and C5`, as stages write them; `spelling.listed` is for the reader's language."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
