"""Visits: on which days to come back, as a calendar and as an iCalendar file (RFC 5545).

Conventions: whole days, no time of day, in the person's own calendar. The rules are common practice without a
source: new strings stretch for days to weeks, slack ones for less, re-tunings thin out until about weekly, which
is the least. With a drift measured between surveys, the next comes when a set number of cents is lost, and the
gaps double.
"""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal

from analyzer.restating import restated, restated_each
from analyzer.settings import PlanSettings

Kind = Literal["pass", "record", "retune"]

_DEFAULTS = PlanSettings()
_PRODUCT = "-//harp-string-survey//harp-survey//EN"
_NAMESPACE = uuid.uuid5(uuid.NAMESPACE_URL, "harp-string-survey/visits")


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One day on which there is something to do."""

    day: date
    kind: Kind
    title: str
    what: str
    """A few plain sentences."""


def visits(
    start: date,
    *,
    passes_n: int,
    checkpoint_n: int,
    gentle: bool,
    new_strings: Sequence[str],
    slack: bool,
    cents_per_day: float | None = None,
    settings: PlanSettings = _DEFAULTS,
) -> tuple[Visit, ...]:
    """The passes, then the re-tunings after the last, in order of their days; where later passes are only foreseen,
    whether one is due then is left to the plan of that day.

    `checkpoint_n`: passes before the harp is to be recorded again; later ones are provisional and fall under "record
    and plan again". `cents_per_day`: measured drift, where there is one.
    """
    rest = settings.gentle_rest_days if gentle else settings.rest_days
    found: list[Visit] = []
    for n in range(1, passes_n + 1):
        day = start + timedelta(days=(n - 1) * rest)
        if n <= checkpoint_n:
            found.append(
                Visit(day=day, kind="pass", title=f"Harp: pass {n}", what="Work through this pass of the plan.")
            )
        if n == checkpoint_n:
            found.append(_record(day + timedelta(days=rest), passes_n - n))
    last = start + timedelta(days=max(passes_n - 1, 0) * rest)
    for gap in _gaps(bool(new_strings), slack, cents_per_day, settings):
        still_new = new_strings if gap <= settings.new_string_days else ()
        found.append(_retune(last + timedelta(days=gap), still_new, sure=passes_n <= checkpoint_n))
    return tuple(sorted(found, key=lambda v: v.day))


def _record(day: date, left_n: int) -> Visit:
    more = "It may want a last touch."
    if left_n:
        follow = "pass follows" if left_n == 1 else "passes follow"
        more = f"About {left_n} more {follow}; the new plan says which."
    return Visit(
        day=day,
        kind="record",
        title="Harp: look, record, plan again",
        what=f"Look at soundboard and joints. Record all strings, survey, and plan from that. {more}",
    )


def _retune(day: date, new_strings: Sequence[str], *, sure: bool) -> Visit:
    """`sure`: whether the harp is at pitch by then, and not only foreseen to be."""
    new = f" New strings ({', '.join(new_strings)}) will have fallen most." if new_strings else ""
    tune = f"Tune all strings to their notes, none above: only someone who was shown how on this harp.{new}"
    if sure:
        return Visit(day=day, kind="retune", title="Harp: tune again", what=tune)
    return Visit(
        day=day,
        kind="retune",
        title="Harp: tune again if it is at pitch",
        what="Only if the last plan says that all strings are at pitch; else turn no pin but by the next pass of that"
        f" plan. {tune}",
    )


def _gaps(new: bool, slack: bool, cents_per_day: float | None, settings: PlanSettings) -> tuple[int, ...]:
    """Days after the last pass."""
    if cents_per_day is not None and cents_per_day > 0.0:
        gap = min(max(int(settings.visit_cents / cents_per_day), 1), settings.visit_most_days)
        days, last = [], 0
        for _ in range(settings.visits_measured_n):
            last += gap
            days.append(last)
            gap = min(2 * gap, settings.visit_most_days)
        return tuple(days)
    if new:
        return settings.visit_days_new
    return settings.visit_days_slack if slack else settings.visit_days_tuned


def to_ics(visits_: Sequence[Visit], *, title: str, made_at: datetime) -> bytes:
    """The visits as an iCalendar file, in the language of the moment; the same visits at the same time give the same
    bytes."""
    from icalendar import Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", _PRODUCT)
    calendar.add("version", "2.0")
    for visit in visits_:
        event = Event()
        event.add("uid", str(uuid.uuid5(_NAMESPACE, f"{title}\n{visit.day}\n{visit.kind}\n{visit.title}")))
        event.add("dtstamp", made_at)
        event.add("dtstart", visit.day)
        event.add("dtend", visit.day + timedelta(days=1))
        summary = restated(visit.title).text
        event.add("summary", f"{summary} ({title})" if title else summary)
        event.add("description", " ".join(one.text for one in restated_each(visit.what)))
        event.add("transp", "TRANSPARENT")
        calendar.add_component(event)
    return bytes(calendar.to_ical())
