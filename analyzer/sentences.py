"""What a survey says in sentences: the summary that opens the report and closes the command, and the charts
in words.

Everything here is worded from the Survey and its digest; nothing is measured. Fixed texts are in `words`.
"""

from collections.abc import Iterable

from analyzer import words
from analyzer.digest import Digest, digest
from analyzer.settings import ReportSettings
from analyzer.survey import StringRow, Survey
from analyzer.words import amount, counted

SETTINGS = ReportSettings()


def summary(survey: Survey) -> tuple[str, ...]:
    """The whole survey in a few plain sentences, in the order a person asks."""
    return tuple(sentence for _, sentences in summary_parts(survey) for sentence in sentences)


def summary_parts(survey: Survey) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """The same sentences under their four headings."""
    d = digest(survey, SETTINGS)
    return (
        (words.HOW_FAR, tuple(_how_far(survey, d))),
        (words.MISSING, tuple(_missing(d))),
        (words.FIRST, tuple(_first(survey, d))),
        (words.SURE, tuple(_sure(survey, d))),
    )


def deviation_alt(survey: Survey) -> str:
    """What the deviation chart shows in this case."""
    d = digest(survey, SETTINGS)
    if not d.measured:
        return "No string could be measured."
    flat, sharp = d.flattest, d.sharpest
    most = f", the {d.worst_region} most" if d.worst_region else ""
    groups = (
        (d.flat, f"flat{most}{_by(d.flat, flat)}"),
        (d.sharp, f"sharp{_by(d.sharp, sharp)}"),
        (d.in_tune, f"within {SETTINGS.in_tune_cents:.0f} cents of the note"),
        (d.octave_low, f"about an octave low ({_names(d.octave_low)})"),
        (d.not_heard, f"not heard ({_names(d.not_heard)})"),
    )
    (rows, what), *others = [group for group in groups if group[0]]
    parts = [f"{len(rows)} of {counted(d.strings_n, 'string')} {_are(rows)} {what}"]
    parts += [f"{len(rows)} {_are(rows)} {what}" for rows, what in others]
    return "; ".join(parts) + "."


def decay_alt(survey: Survey) -> str:
    """What the decay chart shows in this case."""
    d = digest(survey, SETTINGS)
    timed = [row for row in survey.strings if row.decay_s is not None]
    if not timed:
        return "No string’s decay could be measured."
    first, last = timed[0], timed[-1]
    text = f"Decay times of {counted(len(timed), 'string')}"
    if first is not last:
        text += f", from {_seconds(first)} at {words.note(first.note)} to {_seconds(last)} at {words.note(last.note)}"
    if d.dull:
        text += f"; {counted(len(d.dull), 'string')} {_are(d.dull)} dull ({_names(d.dull)})"
    else:
        text += "; no string is judged dull"
    return text + "."


def _how_far(survey: Survey, d: Digest) -> Iterable[str]:
    if not d.measured:
        yield "No string could be measured."
        return
    groups = [
        f"{len(rows)} {_are(rows)} {what}"
        for rows, what in (
            (d.flat, "flat"),
            (d.sharp, "sharp"),
            (d.in_tune, f"within {SETTINGS.in_tune_cents:.0f} cents of the note"),
            (d.octave_low, f"about an octave low ({_names(d.octave_low)})"),
        )
        if rows
    ]
    yield f"Of the {counted(len(d.measured), 'string')} measured, {words.listed(groups, len(groups))}."
    if d.median_abs_cents is not None and (d.flat or d.sharp):
        worst = max(d.flat + d.sharp, key=lambda row: abs(row.cents or 0.0))
        side = words.FLAT if worst in d.flat else words.SHARP
        where = f", and the {d.worst_region} is the worst part" if d.worst_region else ""
        yield (
            f"Half of them are more than {amount(d.median_abs_cents)} off; the furthest is"
            f" {words.note(worst.note)}, {_amount(worst)} {side}{where}."
        )
    if survey.a4_that_fits_hz is not None:
        yield (
            f"Taken together they would fit A4 = {survey.a4_that_fits_hz:.1f} Hz;"
            f" every figure here is against A4 = {survey.tuning.a4_hz:g} Hz all the same."
        )


def _missing(d: Digest) -> Iterable[str]:
    if d.not_heard:
        verb = "was" if len(d.not_heard) == 1 else "were"
        yield (
            f"{counted(len(d.not_heard), 'string')} of {d.strings_n} {verb} not heard ({_names(d.not_heard)}):"
            " missing, broken, or skipped in the recording."
        )
    else:
        yield f"Every one of the {d.strings_n} strings was heard."
    for rows, what in (
        (d.dull, "dull beside the neighbours"),
        (d.false, "false, without one clear pitch"),
        (d.by_hand, "odd, and should be checked by hand"),
    ):
        if rows:
            verb = "sounds" if len(rows) == 1 else "sound"
            yield f"{counted(len(rows), 'string')} {verb} {what} ({_names(rows)})."


def _first(survey: Survey, d: Digest) -> Iterable[str]:
    if survey.doubts:
        what = "the question" if len(survey.doubts) == 1 else f"the {len(survey.doubts)} questions"
        yield f"Settle {what} below before any pin is turned: the recording can be read in another way too."
    if d.serious_n:
        yield "Record again if you can: the check-up below says what is wrong with this recording."
    if d.octave_low:
        yield f"Look at {_names(d.octave_low)}: very slack, or a string of another octave in its place."
    if d.uncertain:
        which = "it is" if len(d.uncertain) == 1 else "each is"
        yield f"Pluck {_names(d.uncertain)} again and see which string {which}."
    if d.not_heard:
        yield f"Look whether {_names(d.not_heard)} {_are(d.not_heard)} there at all, and fit what is missing."
    high = [row for row in d.sharp if (row.cents or 0.0) >= SETTINGS.slack_cents]
    if high:
        yield f"Let {_names(high)} down to the note before anything else is raised: too high is too tight."
    if d.flat and d.median_abs_cents is not None and d.median_abs_cents >= SETTINGS.slack_cents:
        yield (
            "Let a qualified harp technician look the harp over before it is brought up, then raise it in"
            " several small passes over days."
        )
    elif d.flat or d.sharp:
        yield "Then tune it, all strings a little at a time, and again after a day."
    else:
        yield "It needs no tuning."


def _sure(survey: Survey, d: Digest) -> Iterable[str]:
    if d.median_u95_cents is not None:
        u95 = words.number(d.median_u95_cents, words.decimals(d.median_u95_cents, 1))
        yield f"A typical figure is good to ± {u95} cents (95 %)."
    for row in d.uncertain[: SETTINGS.names_n]:
        if row.match_confidence is not None:
            yield f"That {words.note(row.note)} is that string is only {words.percent(row.match_confidence)} likely."
    if d.unjudged:
        yield f"The condition of {counted(len(d.unjudged), 'string')} could not be judged ({_names(d.unjudged)})."
    found = [counted(n, noun) for n, noun in ((d.serious_n, "serious fault"), (d.warnings_n, "lesser one")) if n]
    if found:
        yield f"The recording has {words.listed(found, len(found))}: see its check-up."
    else:
        yield "Nothing in the recording spoils the measurement."
    if survey.tuning.settled_by == "default":
        yield f"All of it assumes {survey.tuning.setting}, because nobody said otherwise."


def _names(rows: Iterable[StringRow]) -> str:
    return words.listed([words.note(row.note) for row in rows], SETTINGS.names_n)


def _amount(row: StringRow) -> str:
    return amount(row.cents or 0.0)


def _by(rows: tuple[StringRow, ...], furthest: StringRow | None) -> str:
    return "" if furthest is None else f", by {'up to ' if len(rows) > 1 else ''}{_amount(furthest)}"


def _are(rows: tuple[StringRow, ...]) -> str:
    return "is" if len(rows) == 1 else "are"


def _seconds(row: StringRow) -> str:
    return f"{words.measured(row.decay_s, row.decay_u95_s)[0]} s"
