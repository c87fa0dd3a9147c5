"""What a survey says in sentences: the summary that opens the report and closes the command, and the charts
in words.

Everything here is worded from the Survey and its digest; nothing is measured. Each sentence is whole where it
stands, so that it can be translated; fixed texts are in `words`.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby

from analyzer import words
from analyzer.answers import Answers
from analyzer.digest import Digest, digest
from analyzer.questions import absent, confirmed, inspection_good
from analyzer.restating import restated, restated_each
from analyzer.settings import ReportSettings
from analyzer.speech import mark, say, say_many
from analyzer.spelling import amount, decimals, is_timed, listed, measured, note, number, percent
from analyzer.survey import StringRow, Survey

SETTINGS = ReportSettings()
_UNASKED = Answers()
_STRING = re.compile(r"\b[A-G]\d\b(?! =)")

MOST = {"bass": mark(", the bass most"), "middle": mark(", the middle most"), "treble": mark(", the treble most")}
WORST = {
    "bass": mark("the bass is the worst part"),
    "middle": mark("the middle is the worst part"),
    "treble": mark("the treble is the worst part"),
}


def summary(survey: Survey) -> tuple[str, ...]:
    """The whole survey in a few plain sentences, in the order a person asks."""
    return tuple(sentence for _, sentences in summary_parts(survey) for sentence in sentences)


def summary_parts(survey: Survey, answers: Answers = _UNASKED) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """The same sentences under their four headings; what the answers to a plan settle is no more to be done."""
    d = digest(survey, SETTINGS)
    return (
        (say(words.HOW_FAR), tuple(_how_far(survey, d))),
        (say(words.MISSING), tuple(_missing(d))),
        (say(words.FIRST), tuple(_first(survey, d, answers))),
        (say(words.SURE), tuple(_sure(survey, d))),
    )


def to_mind(survey: Survey) -> tuple[str, ...]:
    """The questions that are open, and where what was said and what was heard disagree: the page shows them apart."""
    sentences = (*(doubt.sentence for doubt in survey.doubts), *survey.remarks)
    return tuple(" ".join(one.text for one in restated_each(sentence)) for sentence in sentences)


def by_notes(survey: Survey, text: str) -> str:
    """The text with strings named by their notes, as the summary names them; `A4 = 440 Hz` is none."""
    return renamed(text, {row.string: row.note for row in survey.strings})


def renamed(text: str, notes: Mapping[str, str]) -> str:
    """The text with strings named by these notes."""
    return _STRING.sub(lambda found: note(notes.get(found[0], found[0])), text)


def deviation_alt(survey: Survey) -> str:
    """What the deviation chart shows in this case."""
    d = digest(survey, SETTINGS)
    if not d.measured:
        return say("No string could be measured.")
    most = say(MOST[d.worst_region]) if d.worst_region else ""
    unheard = tuple(row for row in d.not_heard if row not in d.not_recorded)
    groups = (
        (d.flat, _are_flat(d.flat) + most + _by(d.flat, d.flattest)),
        (d.sharp, _are_sharp(d.sharp) + _by(d.sharp, d.sharpest)),
        (d.in_tune, _are_in_tune(d.in_tune)),
        (d.octave_low, _are_octave_low(d.octave_low)),
        (
            d.uncertain,
            say_many("may be another ({names})", "may be others ({names})", len(d.uncertain)).format(
                names=_names(d.uncertain)
            ),
        ),
        (
            unheard,
            say_many("is not heard ({names})", "are not heard ({names})", len(unheard)).format(names=_names(unheard)),
        ),
        (
            d.not_recorded,
            say_many("was not to be in the recording", "were not to be in the recording", len(d.not_recorded)),
        ),
    )
    (rows, what), *others = [group for group in groups if group[0]]
    of = say_many("{n} string", "{n} strings", d.strings_n)
    first = say("{n} of {strings} {what}").format(n=len(rows), strings=of, what=what)
    return "; ".join([first, *(f"{len(rows)} {what}" for rows, what in others)]) + "."


def decay_alt(survey: Survey) -> str:
    """What the decay chart shows in this case."""
    d = digest(survey, SETTINGS)
    timed = [row for row in survey.strings if is_timed(row)]
    cut_off_n = sum(row.decay_s is not None for row in survey.strings) - len(timed)
    if not timed and not cut_off_n:
        return say("No string’s decay could be measured.")
    text = _timed(timed, cut_off_n) if timed else _all_cut_off(cut_off_n)
    if d.dull:
        dull = say_many("; {n} string is dull ({names})", "; {n} strings are dull ({names})", len(d.dull))
        text += dull.format(names=_names(d.dull))
    else:
        text += say("; no string is judged dull")
    return text + "."


def _timed(timed: Sequence[StringRow], cut_off_n: int) -> str:
    first, last = timed[0], timed[-1]
    text = say_many("Decay time of {n} string", "Decay times of {n} strings", len(timed))
    if first is not last:
        text += say(", from {first_s} s at {first} to {last_s} s at {last}").format(
            first_s=_seconds(first), first=note(first.note), last_s=_seconds(last), last=note(last.note)
        )
    if cut_off_n:
        text += say_many(
            "; {n} more was cut off too soon to tell (the faint mark)",
            "; {n} more were cut off too soon to tell (the faint marks)",
            cut_off_n,
        )
    return text


def _all_cut_off(cut_off_n: int) -> str:
    return say_many(
        "The decay of {n} string was cut off too soon to tell (the faint mark)",
        "The decays of {n} strings were cut off too soon to tell (the faint marks)",
        cut_off_n,
    )


def by_eye(survey: Survey) -> tuple[tuple[str, str], ...]:
    """The list to check by eye: which strings, those next to each other as a range, and what to look for."""
    return tuple((_ranges(survey, row.strings), restated(row.what).text) for row in survey.by_eye)


def _ranges(survey: Survey, strings: Sequence[str]) -> str:
    """`E♭2, F3–A♭3`: three and more strings in a row as a range."""
    texts: list[str] = []
    for present, run in groupby(survey.strings, key=lambda row: row.string in strings):
        if present:
            names = [note(row.note) for row in run]
            texts += [f"{names[0]}–{names[-1]}"] if len(names) > 2 else names
    return ", ".join(texts)


def _how_far(survey: Survey, d: Digest) -> Iterable[str]:
    if not d.measured:
        yield say("No string could be measured.")
        yield from _not_counted(d)
        return
    groups = [
        f"{len(rows)} {what}"
        for rows, what in (
            (d.flat, _are_flat(d.flat)),
            (d.sharp, _are_sharp(d.sharp)),
            (d.in_tune, _are_in_tune(d.in_tune)),
            (d.octave_low, _are_octave_low(d.octave_low)),
        )
        if rows
    ]
    of = say_many("Of the {n} string measured, {groups}.", "Of the {n} strings measured, {groups}.", len(d.measured))
    yield of.format(groups=listed(groups, len(groups)))
    if d.median_abs_cents is not None and (d.flat or d.sharp):
        worst = max(d.flat + d.sharp, key=lambda row: abs(row.cents or 0.0))
        side = say(words.FLAT if worst in d.flat else words.SHARP)
        text = say("Half of them are more than {amount} off; the furthest is {note}, {far} {side}").format(
            amount=amount(d.median_abs_cents), note=note(worst.note), far=_amount(worst), side=side
        )
        yield text + (say(", and {worst}").format(worst=say(WORST[d.worst_region])) if d.worst_region else "") + "."
    yield from _not_counted(d)
    fits_hz, a4_hz = survey.a4_that_fits_hz, survey.tuning.a4_hz
    if d.even and fits_hz is not None and round(fits_hz) != round(a4_hz) and (d.flat or d.sharp) and not survey.doubts:
        yield say(
            "Taken together they would fit about A4 = {fits} Hz; every figure here is against A4 = {a4} Hz all the"
            " same."
        ).format(fits=number(fits_hz, 0), a4=f"{a4_hz:g}")


def _not_counted(d: Digest) -> Iterable[str]:
    """The strings that the figures leave out, because they may be another's."""
    if left := [row for row in d.uncertain if row.cents is not None]:
        yield say_many(
            "{n} more string was measured, but may be another: it is not counted ({names}).",
            "{n} more strings were measured, but may be others: they are not counted ({names}).",
            len(left),
        ).format(names=_names(left))


def _missing(d: Digest) -> Iterable[str]:
    if d.said_missing:
        yield say_many(
            "{n} string of {of} is missing, as was said ({names}).",
            "{n} strings of {of} are missing, as was said ({names}).",
            len(d.said_missing),
        ).format(of=d.strings_n, names=_names(d.said_missing))
    if d.unexplained:
        yield say_many(
            "{n} string of {of} was not heard ({names}): missing, broken, or skipped in the recording.",
            "{n} strings of {of} were not heard ({names}): missing, broken, or skipped in the recording.",
            len(d.unexplained),
        ).format(of=d.strings_n, names=_names(d.unexplained))
    if d.not_recorded:
        yield say_many(
            "{n} other string of {of} was not to be in the recording: nothing is said of it.",
            "{n} other strings of {of} were not to be in the recording: nothing is said of them.",
            len(d.not_recorded),
        ).format(of=d.strings_n)
    if not d.not_heard:
        yield say_many("The one string was heard.", "Every one of the {n} strings was heard.", d.strings_n)
    for rows, text in (
        (
            d.dull,
            say_many(
                "{n} string sounds dull beside the neighbours ({names}).",
                "{n} strings sound dull beside the neighbours ({names}).",
                len(d.dull),
            ),
        ),
        (
            d.false,
            say_many(
                "{n} string sounds false, without one clear pitch ({names}).",
                "{n} strings sound false, without one clear pitch ({names}).",
                len(d.false),
            ),
        ),
        (
            d.by_hand,
            say_many(
                "{n} string sounds odd, and should be checked by hand ({names}).",
                "{n} strings sound odd, and should be checked by hand ({names}).",
                len(d.by_hand),
            ),
        ),
    ):
        if rows:
            yield text.format(names=_names(rows))


def _first(survey: Survey, d: Digest, answers: Answers) -> Iterable[str]:
    gone = {*absent(survey, answers), *answers.replaced} - answers.fitted.keys()
    known = {*gone, *answers.fitted, *(row.string for row in survey.strings if confirmed(row.string, answers))}
    octave_low, uncertain, unexplained = (
        [row for row in rows if row.string not in known] for rows in (d.octave_low, d.uncertain, d.unexplained)
    )
    new = [row for row in survey.strings if row.string in gone]
    if survey.doubts:
        yield say_many(
            "Settle the question below before any pin is turned: the recording can be read in another way too.",
            "Settle the {n} questions below before any pin is turned: the recording can be read in another way too.",
            len(survey.doubts),
        )
    if d.serious_n:
        yield say("Record again if you can: the check-up below says what is wrong with this recording.")
    if octave_low:
        yield say("Look at {names}: very slack, or a string of another octave in its place.").format(
            names=_names(octave_low)
        )
    if uncertain:
        yield say_many(
            "Pluck {names} again, to make sure that the name is right.",
            "Pluck {names} again, to make sure that the names are right.",
            len(uncertain),
        ).format(names=_names(uncertain))
    if unexplained:
        yield say_many(
            "Look whether {names} is there at all, and fit what is missing.",
            "Look whether {names} are there at all, and fit what is missing.",
            len(unexplained),
        ).format(names=_names(unexplained))
    if new:
        yield say_many(
            "Have a new string fitted for {names}.",
            "Have new strings fitted for {names}.",
            len(new),
        ).format(names=_names(new))
    high = [row for row in d.sharp if (row.cents or 0.0) >= SETTINGS.slack_cents]
    if high and not survey.doubts:
        yield say("Let {names} down to the note before anything else is raised: too high is too tight.").format(
            names=_names(high)
        )
    looked_over = answers.advised_by or (answers.inspected is not None and inspection_good(answers.inspected))
    if d.flat and d.median_abs_cents is not None and d.median_abs_cents >= SETTINGS.slack_cents:
        if looked_over:
            yield say("Raise the harp in several small passes over days.")
        else:
            yield say(
                "Let a qualified harp technician look the harp over before it is brought up, then raise it in"
                " several small passes over days."
            )
    elif survey.doubts:
        return  # until the question is settled no figure says what to turn
    elif d.flat or d.sharp:
        yield say("Tune the harp, all strings a little at a time, and again after a day.")
    elif d.measured:
        yield say("The harp needs no tuning.")


def _sure(survey: Survey, d: Digest) -> Iterable[str]:
    if d.median_u95_cents is not None:
        yield say("A typical figure is good to ± {u95} cents (95 %).").format(
            u95=number(d.median_u95_cents, decimals(d.median_u95_cents, 1))
        )
    for row in d.uncertain[: SETTINGS.names_n]:
        if row.match_confidence is not None:
            yield say("The sound taken for {note} may be another string’s: {note} is {chance} likely.").format(
                note=note(row.note), chance=percent(row.match_confidence)
            )
    if d.unjudged:
        yield say_many(
            "The condition of {n} string could not be judged ({names}).",
            "The condition of {n} strings could not be judged ({names}).",
            len(d.unjudged),
        ).format(names=_names(d.unjudged))
    found = []
    if d.serious_n:
        found.append(say_many("{n} serious fault", "{n} serious faults", d.serious_n))
    if d.warnings_n:
        found.append(say_many("{n} lesser fault", "{n} lesser faults", d.warnings_n))
    if found:
        yield say("The recording has {found}: see its check-up.").format(found=listed(found, len(found)))
    else:
        yield say("Nothing in the recording spoils the measurement.")
    if survey.tuning.settled_by == "default":
        yield say("All of it assumes {setting}, because nobody said otherwise.").format(
            setting=restated(survey.tuning.setting).text
        )


def _are_flat(rows: Sequence[StringRow]) -> str:
    return say_many("is flat", "are flat", len(rows))


def _are_sharp(rows: Sequence[StringRow]) -> str:
    return say_many("is sharp", "are sharp", len(rows))


def _are_in_tune(rows: Sequence[StringRow]) -> str:
    near = say_many("is within {cents} cents of the note", "are within {cents} cents of the note", len(rows))
    return near.format(cents=f"{SETTINGS.in_tune_cents:.0f}")


def _are_octave_low(rows: Sequence[StringRow]) -> str:
    low = say_many("is about an octave low ({names})", "are about an octave low ({names})", len(rows))
    return low.format(names=_names(rows))


def _names(rows: Iterable[StringRow]) -> str:
    return listed([note(row.note) for row in rows], SETTINGS.names_n)


def _amount(row: StringRow) -> str:
    return amount(row.cents or 0.0)


def _by(rows: Sequence[StringRow], furthest: StringRow | None) -> str:
    if furthest is None:
        return ""
    return (say(", by up to {far}") if len(rows) > 1 else say(", by {far}")).format(far=_amount(furthest))


def _seconds(row: StringRow) -> str:
    return measured(row.decay_s, row.decay_u95_s)[0]
