"""Surveys of the invented harp of `example_survey` as it moves: pitches, dates and single fields set for a test."""

import math
from collections.abc import Callable
from dataclasses import replace

from analyzer.survey import StringRow, Survey
from tests.example_survey import example_survey


def moved(survey: Survey, cents: Callable[[int, StringRow], float], **values: object) -> Survey:
    """The survey with every string that was heard at other cents (place, row -> cents), partials moved along."""
    rows = []
    for i, row in enumerate(survey.strings):
        if row.pitch_hz is None:
            rows.append(row)
            continue
        off = cents(i, row)
        ratio = 2 ** ((off - row.cents) / 1200)
        partials = tuple(replace(p, frequency_hz=p.frequency_hz * ratio) for p in row.partials)
        rows.append(replace(row, cents=off, pitch_hz=row.pitch_hz * ratio, partials=partials))
    return replace(survey, strings=tuple(rows), **values)


def with_rows(survey: Survey, changes: dict[str, dict[str, object]]) -> Survey:
    """The survey with fields of single strings set."""
    return replace(survey, strings=tuple(replace(row, **changes.get(row.string, {})) for row in survey.strings))


def plain() -> Survey:
    """The harp near its tuning, nothing wrong with any string that is heard, no doubts."""
    survey = moved(example_survey(), lambda i, _: 3 * math.sin(i), doubts=(), remarks=())
    rows = {
        row.string: {"verdict": "sound", "dull": False, "status": "heard", "cents_u95": 1.0, "remarks": ()}
        for row in survey.strings
        if row.status != "not heard"
    }
    return with_rows(survey, rows)


NOT_HEARD = {
    "status": "not heard",
    "pitch_hz": None,
    "cents": None,
    "cents_u95": None,
    "decay_s": None,
    "brightness_db": None,
    "partials": (),
    "onset_s": None,
    "recording": None,
    "dull": None,
    "verdict": "cannot judge",
}
"""What a string that was not heard has."""
