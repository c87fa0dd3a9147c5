"""A survey with strings recorded again: what was heard later takes the place of what was heard before.

A string of the later survey that was heard for sure replaces the earlier row, sure or not; one that is uncertain only
fills a string that was not heard. Rows and plucks are carried over with their figures; whether single strings stand a
semitone beside their neighbours is judged again on what is then known.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from analyzer.doubts import LOWERED, RAISED, whole_harp
from analyzer.lineup import check_fit
from analyzer.settings import DoubtSettings
from analyzer.survey import Doubt, StringRow, Survey

_WHOLE = DoubtSettings()
_SINGLE = (RAISED, LOWERED)
"""Doubts that a few strings recorded again settle."""


def merge(survey: Survey, later: Survey) -> Survey:
    """One survey of both. Raises UnusableInput where they cannot be of one harp in one state (`lineup.check_fit`).

    A doubt stays when the later survey has it too, or heard too few strings to speak of the whole harp; the words said
    later win.
    """
    remarks = check_fit((survey, later))
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
            *(d for d in whole if d.code in codes or heard_n < _WHOLE.least_strings),
            *_single(replace(survey, strings=rows, tuning=later.tuning)),
        ),
        remarks=tuple(dict.fromkeys((*survey.remarks, *later.remarks, *remarks, _joined(taken, survey.strings)))),
        clock_u95_cents=max(survey.clock_u95_cents, later.clock_u95_cents),
    )


def _single(survey: Survey) -> tuple[Doubt, ...]:
    """The doubts about single strings."""
    heard = [(float(k), row.cents) for k, row in enumerate(survey.strings) if row.cents is not None]
    places, cents = np.array([k for k, _ in heard]), np.array([c for _, c in heard])
    whole = whole_harp(places, cents, survey.layout, survey.tuning, _WHOLE)
    return tuple(d for d in whole.doubts if d.code in _SINGLE)


def _row(old: StringRow, new: StringRow, shift: int) -> StringRow:
    better = new.status == "heard" or (new.status == "uncertain" and old.status == "not heard")
    if not better:
        return old
    return replace(new, recording=None if new.recording is None else new.recording + shift)


def _joined(taken: set[str], strings: Sequence[StringRow]) -> str:
    names = [row.string for row in strings if row.string in taken]
    return f"Recorded again: {', '.join(names)}." if names else "The later recording added no string."
