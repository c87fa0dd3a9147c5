"""A survey counted up: the few figures of the whole harp that its sentences, charts and lists are made of.

Conventions as in `survey`. Rows keep the layout's order, lowest first. A string is flat or sharp when it is
further off than `ReportSettings.in_tune_cents`; one within the octave window of −1200 cents, or of an octave
below where its neighbours lie, is counted apart, because its distance says "an octave low", not "1200 cents
slack", and would drown every other figure.
"""

from dataclasses import dataclass
from statistics import median
from typing import Literal

from analyzer import words
from analyzer.notes import string_named
from analyzer.recording import Finding
from analyzer.settings import ReportSettings
from analyzer.survey import StringRow, Survey

Region = Literal["bass", "middle", "treble"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Digest:
    """The whole harp in a few figures."""

    strings_n: int
    measured: tuple[StringRow, ...]
    """Those with a figure in cents that is surely theirs."""
    not_heard: tuple[StringRow, ...]
    said_missing: tuple[StringRow, ...]
    """Of `not_heard`, those that the person said are not on the harp."""
    not_recorded: tuple[StringRow, ...]
    """… those that were not to be plucked: other than the few named, or beyond the first and the last."""
    unexplained: tuple[StringRow, ...]
    """The rest of `not_heard`."""
    uncertain: tuple[StringRow, ...]
    octave_low: tuple[StringRow, ...]
    flat: tuple[StringRow, ...]
    """Without those an octave low."""
    sharp: tuple[StringRow, ...]
    in_tune: tuple[StringRow, ...]
    flattest: StringRow | None
    """Of `flat`."""
    sharpest: StringRow | None
    worst_region: Region | None
    """The third of the harp that is clearly further off than the two others, if there is one."""
    median_abs_cents: float | None
    """Half of the measured strings, those an octave low left out, are further off than this."""
    median_u95_cents: float | None
    even: bool
    """True where half of the harp is off by nearly the same amount: in tune with itself at another pitch."""
    dull: tuple[StringRow, ...]
    false: tuple[StringRow, ...]
    by_hand: tuple[StringRow, ...]
    unjudged: tuple[StringRow, ...]
    """Heard, but their condition could not be judged."""
    serious_n: int
    """Findings about the recordings that strings count from that are serious."""
    warnings_n: int


def digest(survey: Survey, settings: ReportSettings) -> Digest:
    """Count the survey up."""
    strings = survey.strings
    measured = tuple(row for row in strings if row.cents is not None and row.status == "heard")
    octave_low = tuple(row for k, row in enumerate(measured) if _is_octave_low(measured, k, settings))
    others = tuple(row for row in measured if row not in octave_low)
    flat = tuple(row for row in others if _off(row) < -settings.in_tune_cents)
    sharp = tuple(row for row in others if _off(row) > settings.in_tune_cents)
    u95 = [row.cents_u95 for row in measured if row.cents_u95 is not None]
    severities = [finding.severity for finding in findings_that_count(survey)]
    heard = tuple(row for row in strings if row.status != "not heard")
    not_heard = tuple(row for row in strings if row.status == "not heard")
    said_missing = tuple(row for row in not_heard if words.SAID_MISSING in row.remarks)
    plucked = _plucked(survey)
    not_recorded = tuple(row for row in not_heard if row.string not in plucked and row not in said_missing)
    return Digest(
        strings_n=len(strings),
        measured=measured,
        not_heard=not_heard,
        said_missing=said_missing,
        not_recorded=not_recorded,
        unexplained=tuple(row for row in not_heard if row not in said_missing and row not in not_recorded),
        uncertain=tuple(row for row in strings if row.status == "uncertain"),
        octave_low=octave_low,
        flat=flat,
        sharp=sharp,
        in_tune=tuple(row for row in others if row not in flat and row not in sharp),
        flattest=min(flat, key=_off, default=None),
        sharpest=max(sharp, key=_off, default=None),
        worst_region=_worst_region(strings, others, settings),
        median_abs_cents=median(abs(_off(row)) for row in others) if others else None,
        median_u95_cents=median(u95) if u95 else None,
        even=_even([_off(row) for row in others], settings),
        dull=tuple(row for row in heard if row.verdict == "dull"),
        false=tuple(row for row in heard if row.verdict == "false"),
        by_hand=tuple(row for row in heard if row.verdict == "check by hand"),
        unjudged=tuple(row for row in heard if row.verdict == "cannot judge"),
        serious_n=severities.count("serious"),
        warnings_n=severities.count("warning"),
    )


def findings_that_count(survey: Survey) -> tuple[Finding, ...]:
    """Of the recordings that strings count from: one whose strings were all recorded again spoils nothing any more."""
    counting = {row.recording for row in survey.strings if row.recording is not None}
    recordings = [info for k, info in enumerate(survey.recordings) if k in counting or not counting]
    return tuple(finding for info in recordings for finding in info.findings)


def _plucked(survey: Survey) -> frozenset[str]:
    """The strings that were to be in the recording: all, the few named, or those from the first to the last said."""
    names = [row.string for row in survey.strings]
    if only := survey.said.get("only"):
        return frozenset(string_named(part, survey.layout) for part in only.split(",") if part.strip())
    if not (survey.said.get("first") and survey.said.get("last")):
        return frozenset(names)
    ends = sorted(names.index(string_named(survey.said[end], survey.layout)) for end in ("first", "last"))
    return frozenset(names[ends[0] : ends[1] + 1])


def _off(row: StringRow) -> float:
    """The deviation of a measured row, cents."""
    return row.cents or 0.0


def _is_octave_low(rows: tuple[StringRow, ...], k: int, settings: ReportSettings) -> bool:
    around = [_off(row) for j, row in enumerate(rows) if 0 < abs(j - k) <= settings.octave_neighbours_n]
    places = (-1200.0, median(around) - 1200.0 if around else -1200.0)
    return any(abs(_off(rows[k]) - place) <= settings.octave_window_cents for place in places)


def _even(off_cents: list[float], settings: ReportSettings) -> bool:
    if not off_cents:
        return False
    middle = median(off_cents)
    return median(abs(off - middle) for off in off_cents) <= settings.even_cents


def _worst_region(
    strings: tuple[StringRow, ...], rows: tuple[StringRow, ...], settings: ReportSettings
) -> Region | None:
    place = {row.string: 3 * i // len(strings) for i, row in enumerate(strings)}
    thirds: tuple[Region, Region, Region] = ("bass", "middle", "treble")
    typical = {}
    for k, region in enumerate(thirds):
        off = [abs(_off(row)) for row in rows if place[row.string] == k]
        if not off:
            return None
        typical[region] = median(off)
    first, second = sorted(thirds, key=lambda region: typical[region], reverse=True)[:2]
    clearly = typical[first] > settings.in_tune_cents and typical[first] >= (settings.region_margin * typical[second])
    return first if clearly else None
