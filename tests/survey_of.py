"""Surveys of invented harps for the tests of plans: what was heard is given, all else is unremarkable."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import Any

from analyzer.layout import Layout
from analyzer.survey import Doubt, StringRow, Survey
from analyzer.tuning import Tuning
from tests.example_survey import example_survey

START = date(2026, 3, 2)


def survey_of(
    layout: Layout,
    tuning: Tuning,
    cents: Mapping[str, float | None],
    changes: Mapping[str, Mapping[str, Any]] | None = None,
    doubts: tuple[Doubt, ...] = (),
    said: Mapping[str, str] | None = None,
) -> Survey:
    """A survey with these deviations (None: not heard), single strings changed as given."""
    tuning = replace(tuning, stated=("key", "levers", "pedals"), settled_by="person")
    rows = tuple(
        replace(row(t.string, t.note, t.target_hz, cents.get(t.string)), **(changes or {}).get(t.string, {}))
        for t in tuning.targets
    )
    return replace(
        example_survey(),
        layout=layout,
        tuning=tuning,
        strings=rows,
        plucks=(),
        doubts=doubts,
        said=dict(said or {}),
        remarks=(),
    )


def row(string: str, note: str, target_hz: float, cents: float | None) -> StringRow:
    heard = cents is not None
    return StringRow(
        string=string,
        note=note,
        target_hz=target_hz,
        status="heard" if heard else "not heard",
        onset_s=1.0 if heard else None,
        recording=0 if heard else None,
        pitch_hz=None if cents is None else target_hz * 2 ** (cents / 1200),
        cents=cents,
        cents_u95=1.0 if heard else None,
        match_confidence=0.99 if heard else None,
        decay_s=2.0 if heard else None,
        decay_u95_s=0.1 if heard else None,
        dull=False if heard else None,
        dull_probability=0.03 if heard else None,
        false_probability=0.02 if heard else None,
        verdict="sound" if heard else "cannot judge",
        brightness_db=None,
        expected_decay_s=2.0,
        inharmonicity=None,
        partials=(),
        decay_curve_db=(),
        remarks=(),
    )
