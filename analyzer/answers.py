"""Answers: what only the person at the harp can say, and the file in which it is kept beside the survey.

Task: the answers as a value, checked against the harp; and `plan-answers.json`, in which they, and the plan made on
them, are kept beside `survey.json`.

Conventions: strings by letter and octave. The kept answers belong to one reading of one recording: they carry a
fingerprint of it, and are asked again once it reads otherwise.
"""

import hashlib
from dataclasses import dataclass, field, fields, replace
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from analyzer.errors import UnusableInput
from analyzer.json_files import check_schema, decode_json, read_bounded, read_json
from analyzer.notes import nearest, string_named
from analyzer.pass_limits import Turn
from analyzer.response import Response
from analyzer.spreadsheet import dashed
from analyzer.survey import Survey

KEPT_FILE = "plan-answers.json"
KEPT_SCHEMA = 1
Value = TypeVar("Value", str, bool)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """What the person said."""

    inspected: str | None = None
    """`good`, or what was found, in words."""
    levers: str | None = None
    """What they were set to at the recording, as for `make_tuning`."""
    pedals: str | None = None
    key: str | None = None
    """What the open strings are tuned to."""
    confirmed: tuple[str, ...] = ()
    """Looked at by hand: a heard one is that string and as low as measured, one not heard is absent."""
    confirm_all: bool = False
    replaced: tuple[str, ...] = ()
    """To be taken off and a new one fitted; of one that is in `fitted` too, that has been done since."""
    fitted: dict[str, str] = field(default_factory=dict)
    """String -> ISO 8601 day on which it was put on new."""
    gentle: bool | None = None
    """An old or weak harp; None where nothing was said."""
    historical: bool | None = None
    advised_by: str = ""
    """The qualified harp technician who looked at it and agreed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What is kept beside a survey."""

    schema: int
    fingerprint: str
    answers: Answers
    turns: tuple[tuple[Turn, ...], ...]
    """The plan made on them, pass by pass, for the next survey to measure how the harp gave way."""
    checkpoint_passes: int
    """How many of its passes were to be done before recording again."""
    measuring: tuple[str, ...] = ()
    """Strings that the first of them leaves as they fall."""
    response: Response | None = None
    """How the harp gave way, which that plan reckons with; None where it was not measured."""
    planned: bool = True
    """Whether a plan was made on them; else they are kept until one can be."""


def fingerprint(survey: Survey) -> str:
    """The same for surveys of the same recordings that read the same."""
    recordings = [r.sha256 for r in survey.recordings]
    rows = [(r.string, r.status, r.cents, r.match_confidence) for r in survey.strings]
    return hashlib.sha256(msgspec.json.encode((recordings, survey.layout, survey.tuning.targets, rows))).hexdigest()


def checked(answers: Answers, survey: Survey) -> Answers:
    """The answers with every string by its proper name.

    Raises UnusableInput for a string that the harp has not, a date that is none, and answers that contradict each
    other.
    """
    layout = survey.layout
    confirmed_ = tuple(string_named(s, layout) for s in answers.confirmed)
    replaced_ = tuple(string_named(s, layout) for s in answers.replaced)
    fitted = {string_named(s, layout): _day(s, day) for s, day in answers.fitted.items()}
    for string in replaced_:
        if string in confirmed_:
            raise UnusableInput(f"{string} is named to be replaced and as confirmed; name it for one of them.")
        if string in fitted:
            raise UnusableInput(f"{string} is named to be replaced and as already fitted; name it for one of them.")
    return replace(answers, confirmed=confirmed_, replaced=replaced_, fitted=fitted)


def _day(string: str, text: str) -> str:
    try:
        return date.fromisoformat(dashed(text.strip())).isoformat()
    except ValueError as e:
        raise UnusableInput(f"{string} fitted on {text!r}: not a date; write year-month-day, as in 2026-03-02.") from e


def joined(kept: Answers, given: Answers) -> Answers:
    """What was kept, with what is said now taking its place; who agreed had not seen what another inspection found."""
    gone = set(given.replaced)
    looked_again = None not in (kept.inspected, given.inspected) and kept.inspected != given.inspected
    return replace(
        given,
        inspected=first_said(given.inspected, kept.inspected),
        levers=first_said(given.levers, kept.levers),
        pedals=first_said(given.pedals, kept.pedals),
        key=first_said(given.key, kept.key),
        confirmed=tuple(dict.fromkeys(s for s in (*kept.confirmed, *given.confirmed) if s not in gone)),
        confirm_all=given.confirm_all or kept.confirm_all,
        replaced=tuple(dict.fromkeys(s for s in (*kept.replaced, *given.replaced) if s not in given.confirmed)),
        fitted={**{s: day for s, day in kept.fitted.items() if s not in gone}, **given.fitted},
        gentle=first_said(given.gentle, kept.gentle),
        historical=first_said(given.historical, kept.historical),
        advised_by=given.advised_by or ("" if looked_again else kept.advised_by),
    )


def first_said(*values: Value | None) -> Value | None:
    """The first that was said."""
    return next((v for v in values if v is not None), None)


def read_answers(file: Path) -> Answers:
    """Answers from a JSON file of one's own, with the names of `Answers`."""
    try:
        table = read_json(file, dict[str, Any])
        known = [f.name for f in fields(Answers)]
        for name in table:
            if name not in known:
                raise UnusableInput(
                    f"{file}: unknown answer {name!r}; known are {', '.join(known)}.{nearest(name, known)}"
                )
        return msgspec.convert(table, Answers)
    except OSError as e:
        raise UnusableInput(f"{file}: cannot be read ({e.strerror}).") from e
    except msgspec.MsgspecError as e:
        raise UnusableInput(f"{file}: not a file of answers ({e}).") from e


def read_kept(folder: Path) -> Kept | None:
    """What is kept in a survey's folder; None where nothing is.

    Raises UnusableInput for a file that is not ours or of a later version.
    """
    file = folder / KEPT_FILE
    try:
        data = read_bounded(file)
    except FileNotFoundError:
        return None
    except OSError as e:
        raise UnusableInput(f"{file}: cannot be read ({e.strerror}).") from e
    try:
        head = decode_json(data, dict)
        check_schema(head, KEPT_SCHEMA, file)
        return msgspec.convert(head, Kept)
    except msgspec.MsgspecError as e:
        raise UnusableInput(f"{file}: not the answers to a plan ({e}); delete it and answer again.") from e


def kept_json(kept: Kept) -> bytes:
    """The file's content: same values, same bytes."""
    return msgspec.json.format(msgspec.json.encode(kept), indent=1) + b"\n"
