"""Regulation: how far each lever or pedal raises its string, against the semitone it should.

Task: a survey with levers off (or pedals flat) and one with them on (or moved) -> each string's rise with its interval,
and whether it is too much, too little, or spoils the sound.

Conventions: cents; the rise is between the two measured pitches. It should be what the two tunings say where they say
that the levers or pedals stood differently (a temperament's semitone where targets are the person's own), else one
semitone of equal temperament. The interval is that of `changes`.

Known limits: a string that was still stretching between the two recordings shows its stretch as a short rise, so that
nothing is judged unless the person says that the harp has settled, and it is near its tuning. That a string buzzes is
heard only where it is heard in the survey (a false or much shortened sound).
"""

import itertools
import statistics
from dataclasses import dataclass
from typing import Literal

from analyzer.changes import Pair, StringChange
from analyzer.notes import cents
from analyzer.settings import RegulationSettings
from analyzer.survey import Survey

Raising = Literal["as it should", "too much", "too little", "not raised", "not judged", ""]

_DEFAULTS = RegulationSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class Raised:
    """One string."""

    string: str
    open_hz: float | None
    engaged_hz: float | None
    rise_cents: float | None
    """None where it was not heard in both."""
    rise_u95: float | None
    should_cents: float | None
    """None where its lever or pedal was not moved."""
    off_cents: float | None
    """Rise less what it should be."""
    raising: Raising
    """Empty for a string whose lever or pedal was not moved."""
    buzzes: bool | None
    """Engaged it sounds false, dull or much shorter, and open it does not; None where that was not judged."""
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Regulation:
    """All strings."""

    judged: bool
    """Whether the harp was in a state to be judged."""
    why_not: str
    """A sentence, empty where it was judged."""
    strings: tuple[Raised, ...]
    """Lowest first."""


def regulate(
    before: Survey, after: Survey, pair: Pair, *, settled: bool, settings: RegulationSettings = _DEFAULTS
) -> Regulation:
    """Open against engaged; `pair` is their comparison. `settled`: the person says that the harp holds its tuning."""
    why_not = _why_not(before, settled, settings)
    should = _should(before, after, settings)
    rows = itertools.zip_longest(pair.strings, before.strings, after.strings)
    return Regulation(
        judged=not why_not,
        why_not=why_not,
        strings=tuple(
            _raised(row, old.pitch_hz, now.pitch_hz, should[row.string], judged=not why_not, settings=settings)
            for row, old, now in rows
        ),
    )


def _why_not(survey: Survey, settled: bool, settings: RegulationSettings) -> str:
    off = [abs(row.cents) for row in survey.strings if row.cents is not None]
    typical = statistics.median(off) if off else 0.0
    if typical > settings.settled_cents:
        return (
            f"Not judged: open, half of the strings are more than {typical:.0f} cents off; tune the harp and let it"
            " settle before its levers or discs are regulated."
        )
    if not settled:
        return "Not judged: nobody said that the harp has settled; once it holds its tuning for a week, say --settled."
    return ""


def _should(before: Survey, after: Survey, settings: RegulationSettings) -> dict[str, float | None]:
    """String -> by how much it should rise; None for one that was not moved."""
    then = {t.string: t for t in before.tuning.targets}
    now = {t.string: t for t in after.tuning.targets}
    if all(then[s].raised_semitones == now[s].raised_semitones for s in then):
        return dict.fromkeys(then, settings.semitone_cents)
    same_reference = before.tuning.a4_hz == after.tuning.a4_hz
    should: dict[str, float | None] = {}
    for string, target in then.items():
        steps = now[string].raised_semitones - target.raised_semitones
        if steps == 0:
            should[string] = None
        elif same_reference:
            should[string] = cents(now[string].target_hz, target.target_hz)
        else:
            should[string] = steps * settings.semitone_cents
    return should


def _raised(
    row: StringChange,
    open_hz: float | None,
    engaged_hz: float | None,
    should: float | None,
    *,
    judged: bool,
    settings: RegulationSettings,
) -> Raised:
    rise, u95 = row.change_cents, row.change_u95
    off = None if rise is None or should is None else rise - should
    raising: Raising = ""
    remarks = []
    if should is not None:
        raising = _word(row, rise, u95, off, settings, back=should < 0.0) if judged else "not judged"
    buzzes = _buzzes(row, settings) if should is not None else None
    if rise is None:
        remarks.append("Not heard in both recordings.")
    elif row.changed is None:
        remarks.append("Which pluck was this string's is not sure.")
    elif raising == "not judged" and judged:
        remarks.append("The interval is too wide to say.")
    if buzzes:
        remarks.append("Engaged it sounds false, dull or much shorter than open: look whether it buzzes or is pinched.")
    return Raised(
        string=row.string,
        open_hz=open_hz,
        engaged_hz=engaged_hz,
        rise_cents=rise,
        rise_u95=u95,
        should_cents=should,
        off_cents=off,
        raising=raising,
        buzzes=buzzes,
        remarks=tuple(remarks),
    )


def _word(
    row: StringChange,
    rise: float | None,
    u95: float | None,
    off: float | None,
    settings: RegulationSettings,
    *,
    back: bool,
) -> Raising:
    """`back`: its pedal was moved back, so that a fall that is too small shows that it raises too little."""
    if rise is None or u95 is None or off is None or row.changed is None:
        return "not judged"
    if abs(rise) + u95 < settings.unraised_cents:
        return "not raised"
    if abs(off) - u95 > settings.tolerance_cents:
        return "too much" if (off > 0) != back else "too little"
    return "as it should" if max(abs(off), u95) <= settings.tolerance_cents else "not judged"


def _buzzes(row: StringChange, settings: RegulationSettings) -> bool | None:
    if not row.before_status == row.after_status == "heard" or row.after_verdict == "cannot judge":
        return None
    worse = row.before_verdict == "sound" and row.after_verdict in ("false", "dull")
    ratio, factor = row.decay_ratio, row.decay_ratio_u95
    shorter = ratio is not None and factor is not None and ratio * factor < settings.worse_decay_ratio
    if row.before_verdict == "cannot judge" and not shorter:
        return None  # it may have sounded so open too
    return worse or shorter
