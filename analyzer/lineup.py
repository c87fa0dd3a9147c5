"""Whether surveys can be compared at all, and their order in time."""

import datetime
from collections.abc import Sequence

from analyzer.errors import UnusableInput
from analyzer.survey import Survey


def in_order(surveys: Sequence[Survey]) -> tuple[int, ...]:
    """Indices of the surveys in the order of their dates; those without a date keep their place.

    Raises UnusableInput where a date is none.
    """
    dated = [i for i, s in enumerate(surveys) if s.date]
    by_date = iter(sorted(dated, key=lambda i: day_of(surveys[i])))
    return tuple(next(by_date) if i in dated else i for i in range(len(surveys)))


def day_of(survey: Survey) -> datetime.date:
    """Its day. Raises UnusableInput where the date is none."""
    try:
        return datetime.datetime.fromisoformat(survey.date).date()
    except ValueError as e:
        raise UnusableInput(
            f"the date {survey.date!r} of {_named(survey)} is no day; write it as in 2026-03-01 and analyse again."
        ) from e


def check_fit(surveys: Sequence[Survey], *, regulation: bool = False) -> tuple[str, ...]:
    """Remarks on what differs but can be compared.

    Raises UnusableInput where the surveys cannot be of the same harp in the same state: other strings, or (unless
    `regulation`) levers or pedals that stood differently.
    """
    first, remarks = surveys[0], []
    for other in surveys[1:]:
        ours, theirs = [s.string for s in first.strings], [s.string for s in other.strings]
        if ours != theirs:
            raise UnusableInput(
                f"the surveys are of different layouts: {first.layout.name} ({ours[0]} to {ours[-1]}) and"
                f" {other.layout.name} ({theirs[0]} to {theirs[-1]}); compare surveys of one harp, or analyse one"
                " of the recordings again with the other's --layout."
            )
        raised = [t.raised_semitones for t in first.tuning.targets], [t.raised_semitones for t in other.tuning.targets]
        if raised[0] != raised[1] and not regulation:
            raise UnusableInput(
                f"the levers or pedals stood differently: {first.tuning.setting!r} and {other.tuning.setting!r}; record"
                " both in one setting, or use --regulation to measure what they raise."
            )
        if first.layout.name != other.layout.name:
            remarks.append(
                f"The layouts differ in stringing ({first.layout.name}, {other.layout.name}): loads compare only as"
                " shares."
            )
        if first.tuning.a4_hz != other.tuning.a4_hz:
            remarks.append(
                f"The references differ (A4 = {first.tuning.a4_hz:g} and {other.tuning.a4_hz:g} Hz): each survey's"
                " cents are against its own, the change is of the pitch itself."
            )
        elif first.tuning.key != other.tuning.key and not regulation:
            remarks.append(
                f"The harp was to be tuned to {first.tuning.key}, then to {other.tuning.key}: each survey's cents are"
                " against its own, the change is of the pitch itself."
            )
        if first.title and other.title and first.title != other.title:
            remarks.append(f"The titles differ ({first.title!r}, {other.title!r}): is it the same harp?")
    return tuple(dict.fromkeys(remarks))


def _named(survey: Survey) -> str:
    return survey.title or (survey.recordings[0].name if survey.recordings else "a survey")
