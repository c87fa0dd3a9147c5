"""How one finds a string on the harp without knowing its name: counted from the top, by its colour where it has one.

What a display must show is the note with its octave and the frequency in whole hertz.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer import words
from analyzer.survey import StringRow, Survey

_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")
_COLOURS = {"C": "red", "F": "black"}


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundString:
    """One string as one finds it."""

    string: str
    where: str
    """`the third red string from the top`."""
    show: str
    """What a tuner's display must show: `C5, 523 Hz`."""
    target_hz: float
    now_hz: float | None
    turn: str
    """`a little up`, `down`, …; empty where nothing is to be turned."""


def found(survey: Survey, row: StringRow, *, turn: bool = False) -> FoundString:
    """The row's string as one finds it; with `turn`, how far it is from its note."""
    way = ""
    if turn and row.cents is not None:
        off = words.amount(row.cents) if row.cents_u95 is None else _with_interval(row.cents, row.cents_u95)
        way = f"{off} too {'low' if row.cents < 0 else 'high'}"
    return FoundString(
        string=row.string,
        where=where(survey, row.string),
        show=f"{words.note(row.note)}, {words.number(row.target_hz, 0)} Hz",
        target_hz=row.target_hz,
        now_hz=row.pitch_hz if turn else None,
        turn=way,
    )


def _with_interval(cents: float, u95: float) -> str:
    """Whole cents, as no display shows less, the interval rounded up."""
    return f"{abs(cents):.0f} ± {math.ceil(u95)} cents"


def where(survey: Survey, string: str) -> str:
    """How one finds a string: counted from the top, by colour, or from the nearest coloured one."""
    names = [row.string for row in reversed(survey.strings)]
    colour = _colours(survey)
    place = names.index(string)
    if place == 0:
        return "the top string, the shortest"
    if colour[string]:
        rank = sum(colour[name] == colour[string] for name in names[: place + 1])
        return f"the {_ordinal(rank)} {colour[string]} string from the top"
    coloured = [i for i, name in enumerate(names) if colour[name]]
    if not coloured:
        return f"the {_ordinal(place + 1)} string from the top"
    near = min(coloured, key=lambda i: abs(i - place))
    far = "" if abs(place - near) == 1 else f"{_ordinal(abs(place - near))} "
    side = f"{'' if far else 'just '}{'below' if place > near else 'above'}"
    return f"the {far}string {side} {where(survey, names[near])}"


def _ordinal(n: int) -> str:
    if n <= len(_ORDINALS):
        return _ORDINALS[n - 1]
    ending = "th" if 10 <= n % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(n % 10, "th")
    return f"{n}{ending}"


def _colours(survey: Survey) -> dict[str, str]:
    given = {s.string: s.colour for s in survey.layout.strings}
    if all(colour == "plain" for colour in given.values()):
        return {row.string: _COLOURS.get(row.string[0], "") for row in survey.strings}
    return {
        row.string: "" if given.get(row.string, "plain") == "plain" else given[row.string] for row in survey.strings
    }


def places(survey: Survey, rows: Sequence[StringRow]) -> str:
    """`3 and 12 to 15`, counted from the top."""
    names = [row.string for row in reversed(survey.strings)]
    counted = sorted(names.index(row.string) + 1 for row in rows)
    runs = np.split(counted, np.flatnonzero(np.diff(counted) > 1) + 1)
    texts = [str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs]
    return words.listed(texts, len(texts))
