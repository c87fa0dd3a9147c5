"""For whoever pays: may it be played, how much work is it, what does it cost, and is it wear or damage.

Task: one survey (and, for an instrument that was lent, the comparison of issue and return) -> a first line and figures.

Conventions: hours of work without travel; money in the owner's own currency and only from the owner's own rates;
nothing is priced by us. All of it is from sound alone: cracks, joints and the soundboard have to be looked at.

Known limits: times a string are our judgement and stand in the settings, so that hours and sums are about so much.
Where it is open whether a string is worn, work and cost are given from without it to with it. A recording does not show
why a string is gone; "cause not determined" is then the answer.
"""

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from analyzer import words
from analyzer.changes import Pair, became_dull, rings_less
from analyzer.notes import in_words
from analyzer.plan import Preview, preview
from analyzer.settings import ChangeSettings, PayingSettings
from analyzer.survey import StringRow, Survey

Playable = Literal["playable now", "playable with limits", "do not play"]
Cause = Literal["ordinary wear", "settling and weather", "cause not determined"]

_DEFAULTS = PayingSettings()
_CHANGES = ChangeSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """The owner's own prices; None where not given."""

    labour_per_hour: float | None = None
    per_visit: float | None = None
    per_string: float | None = None
    """What a string costs on average."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """What so many strings to buy make of the work."""

    visits_n: int
    hours: float
    strings_n: int
    cost: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Paying:
    """What the payer is told of one survey."""

    playable: Playable
    why: tuple[str, ...]
    """Short reasons, the gravest first."""
    visits_n: int
    hours: float
    """Rounded up to a quarter."""
    strings_n: int
    """To be bought if all that is missing, false or dull is replaced."""
    cost: float | None
    """Labour, visits and strings; None unless the rates it takes are given."""
    least: Effort | None = None
    """The same without the strings of which it is open whether they are worn; None where there is none."""
    basis: tuple[str, ...]
    """How the figures come about, and what they leave out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One thing that differs between issue and return."""

    string: str
    what: str
    cause: Cause


def for_payer(
    survey: Survey,
    rates: Rates,
    settings: PayingSettings = _DEFAULTS,
    *,
    open_wear: frozenset[str] = frozenset(),
    looked_over: bool = False,
) -> Paying:
    """What to tell whoever pays. `open_wear`: strings of which a comparison leaves open whether they are worn;
    `looked_over`: whether somebody looked at the wood and found nothing, or a technician agreed that it be raised."""
    off = [row.cents for row in survey.strings if row.cents is not None]
    typical = statistics.median(abs(c) for c in off) if off else None
    missing = [row.string for row in survey.strings if row.status == "not heard"]
    worn = [row.string for row in survey.strings if row.verdict in ("dull", "false") and row.status == "heard"]
    sure = [row for row in survey.strings if row.status == "heard"]
    tight = [r.string for r in sure if r.cents is not None and r.cents >= settings.unplayable_cents]
    far = [r.string for r in sure if abs(r.cents or 0.0) > settings.far_cents and r.string not in tight]
    slack = bool(off) and statistics.median(off) < -settings.slack_cents
    playable, why = _playable(
        survey, typical, missing, worn, tight, far, settings, slack=slack, looked_over=looked_over
    )
    open_n = sum(r.string in worn and (r.string in open_wear or not _sure(r, settings)) for r in survey.strings)
    ahead = preview(survey)
    most = _effort(survey, ahead, len(missing) + len(worn), rates, settings)
    least = _effort(survey, ahead, len(missing) + len(worn) - open_n, rates, settings)
    late_n = (ahead.passes_n or 0) - (ahead.most_up_n or 0)
    return Paying(
        playable=playable,
        why=tuple(why),
        visits_n=most.visits_n,
        hours=most.hours,
        strings_n=most.strings_n,
        cost=most.cost,
        least=least if open_n else None,
        basis=(
            f"{settings.minutes_per_string:g} minutes a string each time it is tuned,"
            f" {settings.minutes_per_new_string:g} minutes a new string, and {settings.minutes_per_visit:g} minutes"
            " more a visit; travel is not in it (our judgement; a technician's own estimate goes before it).",
            "Visits are the passes that the plan takes to bring the harp to pitch within its limits, one more where"
            " strings are new.",
            *([_late(late_n)] if late_n else ()),
            "Strings counted: those not heard, and those that sound dull or false. Whether one is really missing, and"
            " what else the harp needs, has to be looked at.",
        ),
    )


def _late(visits_n: int) -> str:
    """Of visits for a few strings alone: one an octave down may be another string."""
    return (
        f"{visits_n} of them {'is' if visits_n == 1 else 'are'} only for the furthest strings: look first whether"
        " those are the right ones for their places."
    )


def _sure(row: StringRow, settings: PayingSettings) -> bool:
    """Whether a string judged dull or false is so with some confidence."""
    return max(row.dull_probability or 0.0, row.false_probability or 0.0) >= settings.sure_share


def _effort(survey: Survey, ahead: Preview, strings_n: int, rates: Rates, settings: PayingSettings) -> Effort:
    visits_n = max(1, ahead.passes_n or 0) + (1 if strings_n else 0)  # new strings stretch: once more to tune them
    # each turn of the passes, and the whole harp set right once after them, twice where there are new strings
    tuned_n = (ahead.turns_n or 0) + len(survey.strings) * (2 if strings_n else 1)
    minutes = visits_n * settings.minutes_per_visit + tuned_n * settings.minutes_per_string
    hours = math.ceil((minutes + strings_n * settings.minutes_per_new_string) / 15) / 4
    return Effort(visits_n=visits_n, hours=hours, strings_n=strings_n, cost=_cost(hours, visits_n, strings_n, rates))


def _playable(
    survey: Survey,
    typical: float | None,
    missing: Sequence[str],
    worn: Sequence[str],
    tight: Sequence[str],
    far: Sequence[str],
    settings: PayingSettings,
    *,
    slack: bool,
    looked_over: bool,
) -> tuple[Playable, list[str]]:
    grave, limits = [], []
    if tight:
        grave.append(f"{_some(tight)} stand{'s' if len(tight) == 1 else ''} far above the note and may break.")
    if slack:
        grave.append(
            "It stands slack: to be brought up, in passes over days, before it is played."
            if looked_over
            else "It stands slack; have it looked over before it is brought up or played."
        )
    if typical is None:
        grave.append("No string could be measured.")
    if survey.doubts:
        limits.append("The recording can be read in more than one way; see the survey.")
    if typical is not None and typical > settings.playable_cents and not slack:
        limits.append("It needs tuning.")
    if far and typical is not None and typical <= settings.slack_cents:  # of a slack harp it goes without saying
        limits.append(f"{_some(far)} {'is' if len(far) == 1 else 'are'} more than half a semitone off.")
    stated = [row.string for row in survey.strings if row.string in missing and words.SAID_MISSING in row.remarks]
    if stated:
        limits.append(f"{_some(stated)} {'is' if len(stated) == 1 else 'are'} missing, as was said.")
    if unheard := [string for string in missing if string not in stated]:
        limits.append(f"{_some(unheard)} {'was' if len(unheard) == 1 else 'were'} not heard.")
    if worn:
        limits.append(f"{_some(worn)} sound{'s' if len(worn) == 1 else ''} dull or false.")
    if grave:
        return "do not play", [*grave, *limits]
    return ("playable with limits", limits) if limits else ("playable now", [])


def _some(strings: Sequence[str]) -> str:
    shown = list(strings) if len(strings) <= 4 else [*strings[:3], f"{len(strings) - 3} more"]
    return in_words(shown)


def _cost(hours: float, visits_n: int, strings_n: int, rates: Rates) -> float | None:
    if rates.labour_per_hour is None or (strings_n and rates.per_string is None):
        return None
    total = hours * rates.labour_per_hour + visits_n * (rates.per_visit or 0.0) + strings_n * (rates.per_string or 0.0)
    return round(total, 2)


_CAUSES: tuple[Cause, ...] = ("cause not determined", "ordinary wear", "settling and weather")


def issue_and_return(
    pair: Pair, settings: PayingSettings = _DEFAULTS, changes: ChangeSettings = _CHANGES
) -> tuple[Found, ...]:
    """What differs between issue and return, wear apart from damage as far as sound can tell: first what has to be
    asked about, last what every harp does by itself. `changes`: those that the pair was compared with."""
    found = []
    moved = [row.change_cents for row in pair.strings if row.changed is not None and row.change_cents is not None]
    usual_cents = min(statistics.median(moved), 0.0) if moved else 0.0
    for row in pair.strings:
        if row.effect == "cannot be said" and row.before_status == "heard" and not row.new_string:
            found.append(Found(string=row.string, what="cannot be compared", cause="cause not determined"))
        if row.effect == "gone":
            found.append(Found(string=row.string, what="not heard any more", cause="cause not determined"))
        if became_dull(row) and not row.new_string:
            found.append(Found(string=row.string, what="dull now", cause="ordinary wear"))
        elif rings_less(row, changes) and not row.new_string:
            long = f"rings only {100 * (row.decay_ratio or 0.0):.0f} % as long"
            found.append(Found(string=row.string, what=long, cause="cause not determined"))
        if row.before_verdict == "sound" and row.after_verdict == "false" and not row.new_string:
            found.append(Found(string=row.string, what="false now", cause="cause not determined"))
        if row.new_string == "stated":
            found.append(Found(string=row.string, what="replaced meanwhile", cause="cause not determined"))
        if row.changed and row.change_cents is not None and row.effect in ("worse", "changed") and not row.new_string:
            flat = row.change_cents < 0
            settled = usual_cents - settings.settles_cents <= row.change_cents < 0
            found.append(
                Found(
                    string=row.string,
                    what=f"{abs(row.change_cents):.1f} ± {row.change_u95:.1f} cents {'lower' if flat else 'higher'}",
                    cause="settling and weather" if settled else "cause not determined",
                )
            )
    return tuple(sorted(found, key=lambda one: _CAUSES.index(one.cause)))
