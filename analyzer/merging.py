"""A survey with strings recorded again: what was heard later takes the place of what was heard before.

A string of the later survey that was heard for sure replaces the earlier row, sure or not; one that is uncertain only
fills a string that was not heard. Rows and plucks are carried over with their figures; whether single strings stand a
semitone beside their neighbours is judged again on what is then known.
"""

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from analyzer.by_eye import SINGLE
from analyzer.doubts import LOWERED, RAISED, WholeHarp, whole_harp
from analyzer.errors import UnusableInput
from analyzer.lineup import check_fit
from analyzer.notes import in_words
from analyzer.settings import DoubtSettings
from analyzer.survey import LookRow, StringRow, Survey

_WHOLE = DoubtSettings()
_NAME = re.compile(r"[A-G][0-9]")
_PASSED_OVER = re.compile(r"(You said that no (?:other )?string is missing, but )(.+) (?:was|were)( not heard: .+)")
"""As `remarks` words it."""
_SINGLE = (RAISED, LOWERED)
"""Doubts that a few strings recorded again settle."""


def check_whole(survey: Survey, where: str) -> None:
    """Raises UnusableInput for a survey of single strings recorded again: the others would be taken for gone."""
    if survey.said.get("only"):
        raise UnusableInput(
            f"{where}: only single strings were recorded again there; harp-survey reply with the first survey before it"
            " puts them in their places: name the folder that it writes."
        )


def merge(survey: Survey, later: Survey) -> Survey:
    """One survey of both. Raises UnusableInput where they cannot be of one harp in one state (`lineup.check_fit`), or
    are held against different notes: cents of both in one survey would not be of one harp.

    A doubt stays when the later survey has it too, or heard too few strings to speak of the whole harp; the later one's
    own stay; the words said later win.
    """
    remarks = check_fit((survey, later))
    if survey.tuning.targets != later.tuning.targets:
        raise UnusableInput(
            f"the strings recorded again were held against other notes ({later.tuning.setting!r}, A4 ="
            f" {later.tuning.a4_hz:g} Hz) than the first survey's ({survey.tuning.setting!r}, A4 ="
            f" {survey.tuning.a4_hz:g} Hz); analyse them again with its --tuning, --a4 and --target."
        )
    shift = len(survey.recordings)
    rows = tuple(_row(old, new, shift) for old, new in zip(survey.strings, later.strings, strict=True))
    taken = {row.string for row in rows if row.recording is not None and row.recording >= shift}
    before = [
        replace(p, counted=False, reason="repeated") if p.counted and p.string in taken else p for p in survey.plucks
    ]
    after = [
        replace(p, recording=p.recording + shift)
        if not p.counted or p.string in taken
        else replace(p, recording=p.recording + shift, counted=False, reason="repeated")
        for p in later.plucks
    ]
    whole = [doubt for doubt in survey.doubts if doubt.code not in _SINGLE]
    codes = {doubt.code for doubt in later.doubts}
    heard_n = sum(row.status != "not heard" for row in later.strings)
    now = _whole(replace(survey, strings=rows, tuning=later.tuning))
    return replace(
        survey,
        date=later.date or survey.date,
        made_at=later.made_at,
        recordings=survey.recordings + later.recordings,
        tuning=later.tuning,
        said={
            **survey.said,
            **{what: text for what, text in later.said.items() if what not in ("first", "last", "only")},
        },
        strings=rows,
        plucks=tuple(before + after),
        doubts=(
            *(d for d in whole if d.code not in codes and heard_n < _WHOLE.least_strings),
            *(d for d in later.doubts if d.code not in _SINGLE),
            *(d for d in now.doubts if d.code in _SINGLE),
        ),
        remarks=tuple(
            dict.fromkeys(
                (*_still_true((*survey.remarks, *later.remarks), rows), *remarks, _joined(taken, survey.strings))
            )
        ),
        a4_that_fits_hz=now.a4_that_fits_hz,
        clock_u95_cents=max(survey.clock_u95_cents, later.clock_u95_cents),
        by_eye=_looks(survey, later, taken),
    )


def _still_true(remarks: Sequence[str], rows: Sequence[StringRow]) -> tuple[str, ...]:
    """The remarks, without what they say of strings that were heard in either survey: that they were not heard."""
    unheard = {row.string for row in rows if row.status == "not heard"}
    found = []
    for remark in remarks:
        if said := _PASSED_OVER.fullmatch(remark):
            left = [name for name in _NAME.findall(said[2]) if name in unheard]
            were = "was" if len(left) == 1 else "were"
            found += [f"{said[1]}{in_words(left)} {were}{said[3]}"] if left else []
        else:
            found.append(remark)
    return tuple(found)


def _looks(survey: Survey, later: Survey, taken: set[str]) -> tuple[LookRow, ...]:
    """What to look at by eye: of each string by the recording that counts for it."""
    found: dict[str, set[str]] = {}
    for row in survey.by_eye:
        found.setdefault(row.what, set()).update(set(row.strings) - taken)
    for row in later.by_eye:
        found.setdefault(row.what, set()).update(taken.intersection(row.strings))
    urgent = [what for _, what in SINGLE]
    whats = sorted(found, key=lambda what: urgent.index(what) if what in urgent else len(urgent))
    return tuple(
        LookRow(strings=tuple(row.string for row in survey.strings if row.string in found[what]), what=what)
        for what in whats
        if found[what]
    )


def _whole(survey: Survey) -> WholeHarp:
    """What the strings say together: of its doubts those about single strings count, and the A4 that fits."""
    heard = [(float(k), row.cents) for k, row in enumerate(survey.strings) if row.cents is not None]
    places, cents = np.array([k for k, _ in heard]), np.array([c for _, c in heard])
    return whole_harp(places, cents, survey.layout, survey.tuning, _WHOLE)


def _row(old: StringRow, new: StringRow, shift: int) -> StringRow:
    better = new.status == "heard" or (new.status == "uncertain" and old.status == "not heard")
    if not better:
        return old
    return replace(new, recording=None if new.recording is None else new.recording + shift)


def _joined(taken: set[str], strings: Sequence[StringRow]) -> str:
    names = [row.string for row in strings if row.string in taken]
    return f"Recorded again: {', '.join(names)}." if names else "The later recording added no string."
