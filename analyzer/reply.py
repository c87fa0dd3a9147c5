"""A reply to a beginner: at most five things to do next, the most useful first, in plain words.

Task: a Survey -> a Reply, a page that a student or parent can follow without knowing any term of the trade, and a
teacher can add a note to.

Order of what to do: first whatever puts the whole reading in doubt (levers, pedals, key), then what spoils the
recording, then strings to record again, then what to look at by eye, then what to tune, then what to do better in the
next recording, then what to ask the teacher. Where the whole harp is to be recorded again, nothing follows that hangs
on what this recording says.

Conventions: a string is named as one finds it on the harp, counted from the top, by its colour where it has one. What
a display must show is the note with its octave and the frequency in whole hertz. Nothing here tells a beginner to turn
a pin of a slack harp.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from analyzer import words
from analyzer.digest import findings_that_count
from analyzer.doubts import LAYOUT, LOWERED, RAISED
from analyzer.reply_doubts import to_settle
from analyzer.settings import PayingSettings, ReplySettings
from analyzer.survey import StringRow, Survey
from analyzer.whereabouts import FoundString, found, places

_DEFAULTS = ReplySettings()
_PAYING = PayingSettings()
_SLACK = "Bringing a slack harp up too fast can break strings and harm the wood."


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One thing to do."""

    what: str
    """A plain sentence or two."""
    why: str
    strings: tuple[FoundString, ...] = ()
    others: str = ""
    """A sentence with the places of the strings that are too many to describe; empty where there are none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reply:
    """The page."""

    title: str
    date: str
    opening: str
    tasks: tuple[Task, ...]
    more_n: int
    """Things left for next time."""
    pins: str
    """Who may turn pins."""
    note: str
    """The teacher's own words; may be empty."""
    note_by: str
    terms: tuple[tuple[str, str], ...]
    """Each word of the trade on the page, explained."""


def reply(
    survey: Survey,
    *,
    note: str = "",
    note_by: str = "",
    passes_n: int | None = None,
    settings: ReplySettings = _DEFAULTS,
) -> Reply:
    """What to do next. `passes_n`: those of the plan made for this survey, None where there is none."""
    whole = [*_recording(survey), *_all_again(survey, settings)]
    tasks = [*_doubts(survey, settings), *whole]
    sure = not tasks  # else only what is safe whatever the next recording says
    if not whole and all(doubt.code in (RAISED, LOWERED) for doubt in survey.doubts):
        tasks += _again(survey, settings)
    tasks += [
        *_look(survey, settings),
        *(_slack(survey, passes_n, settings) or (_tune(survey, settings) if sure else [])),
        *_next_time(survey),
        *(_ask(survey, settings) if sure else []),
    ]
    if any(doubt.code == LAYOUT for doubt in survey.doubts):
        tasks = tasks[:1]  # all others name strings
    return Reply(
        title=survey.title,
        date=survey.date,
        opening=_opening(survey, settings),
        tasks=tuple(tasks[: settings.most_n]),
        more_n=max(0, len(tasks) - settings.most_n),
        pins=_pins(survey, settings),
        note=note,
        note_by=note_by,
        terms=_terms(tasks[: settings.most_n]),
    )


def _terms(tasks: Sequence[Task]) -> tuple[tuple[str, str], ...]:
    """The words of the trade, those of `_SELDOM` where they are used."""
    text = " ".join([*(f"{task.what} {task.why}" for task in tasks), *(s.turn for t in tasks for s in t.strings)])
    seldom = tuple(pair for sign, pair in _SELDOM.items() if sign in text)
    return (*_TERMS, *seldom)


_SELDOM = {
    " ± ": ("± (give or take)", "39 ± 2 is from 37 to 41, in 19 of 20 cases."),
    # a sound of 10 dB more is judged twice as loud (Stevens, JASA 27 (1955) 815)
    " dB": ("dB (decibel)", "How loud a sound is. Ten more is about twice as loud to the ear."),
}
_TERMS = (
    ("Cent", "A hundredth of the step from one piano key to the next. Most people notice about ten."),
    ("Hz (hertz)", "Swings of the string in a second. More is higher."),
    ("Pin", "The metal peg in the neck that a string is wound on, and that tunes it."),
    ("Lever", "The small handle near the top of a string that makes it a half step higher."),
)


# --- the things to do, the most useful first


def _doubts(survey: Survey, settings: ReplySettings) -> list[Task]:
    """Levers and pedals before all else: until they are known, every other line may be wrong."""
    tasks = {}
    for doubt in survey.doubts:
        what, why = to_settle(survey, doubt)
        rows = [row for row in survey.strings if row.string in doubt.strings]
        tasks[what] = _about(survey, rows, settings, what=what, why=why)
    return list(tasks.values())


def _recording(survey: Survey) -> list[Task]:
    grave = [f for f in findings_that_count(survey) if f.severity == "serious"]
    by_code = {f.code: f for f in grave}
    return [
        Task(what=f"Record the harp again. {f.remedy}", why=f"{f.what} It spoils: {f.spoils}") for f in by_code.values()
    ]


def _next_time(survey: Survey) -> list[Task]:
    """What did not spoil this recording, but would better be otherwise in the next."""
    light = {f.code: f for f in findings_that_count(survey) if f.severity == "warning"}
    return [
        Task(what=f"Keep this in mind for the next recording. {f.remedy}", why=f"{f.what} It spoils: {f.spoils}")
        for f in light.values()
    ][:1]


_LOST = "How long a string rings is lost where it is hardly louder than the room."


def _all_again(survey: Survey, settings: ReplySettings) -> list[Task]:
    """Where most strings were too quiet."""
    heard_n = sum(row.status != "not heard" for row in survey.strings)
    if 2 * len(_quiet(survey, settings)) <= heard_n:
        return []
    what = "Most strings were too quiet: hold the phone nearer, pluck firmly, and record the whole harp again."
    return [Task(what=what, why=_LOST)]


def _again(survey: Survey, settings: ReplySettings) -> list[Task]:
    """Strings that were too quiet, perhaps even to be heard, or that may be another."""
    tasks = []
    if quiet := _quiet(survey, settings):
        one = len(quiet) == 1
        tasks.append(
            Task(
                what=f"String{'' if one else 's'} {places(survey, quiet)} (counted from the top)"
                f" {'was' if one else 'were'} too quiet: hold the phone nearer, pluck firmly, and record"
                f" {'that one' if one else 'those'} again.",
                why=_LOST,
                strings=tuple(found(survey, row) for row in quiet[: settings.most_strings_n]),
            )
        )
    if faint := [row for row in survey.strings if row.faint_s is not None]:
        tasks.append(
            _about(
                survey,
                faint,
                settings,
                what="If they are on the harp, hold the phone nearer, pluck them firmly, and record them again.",
                why="These may have been plucked too softly: something faint was heard in their places.",
            )
        )
    unsure = [row for row in survey.strings if row.status == "uncertain" and row not in quiet]
    if unsure:
        tasks.append(
            _about(
                survey,
                unsure,
                settings,
                what="Record these again, one by one from the top, and no other string with them.",
                why="It is not sure which of the sounds belongs to which string.",
            )
        )
    return tasks


def _quiet(survey: Survey, settings: ReplySettings) -> list[StringRow]:
    return [row for row in survey.strings if _is_quiet(survey, row, settings)]


def _is_quiet(survey: Survey, row: StringRow, settings: ReplySettings) -> bool:
    if row.status == "not heard" or row.recording is None:
        return False
    noise_db = survey.recordings[row.recording].noise_floor_db
    levels = [p.level_db for p in survey.plucks if p.counted and p.string == row.string]
    return bool(levels) and levels[-1] - noise_db < settings.quiet_db


def _look(survey: Survey, settings: ReplySettings) -> list[Task]:
    tasks = []
    gone = [row for row in survey.strings if row.status == "not heard" and row.faint_s is None]
    if gone:
        tasks.append(
            _about(
                survey,
                gone,
                settings,
                what="Look whether these strings are on the harp. Record those that are; tell your teacher which are"
                " not.",
                why="They were not heard: missing, broken, or passed over.",
            )
        )
    octave = [row for row in survey.strings if row.cents is not None and row.cents <= settings.other_octave_cents]
    if octave:
        tasks.append(
            _about(
                survey,
                octave,
                settings,
                what="Do not tune these by a display of note letters alone: show them to your teacher first.",
                why="They sound far too low, perhaps a whole octave, where a display shows the same letter.",
            )
        )
    return tasks


def _slack(survey: Survey, passes_n: int | None, settings: ReplySettings) -> list[Task]:
    """Of a harp that is far from in tune, too low or too high."""
    typical = _typical(survey, settings)
    if typical <= _PAYING.slack_cents:
        return []
    slow = f" {_SLACK}" if _is_slack(survey, settings) else ""
    plan = f" The plan made for this harp takes {passes_n} sittings with rests between." if passes_n else ""
    return [
        Task(
            what="Turn no pin yet. Ask your teacher to find a harp technician who looks the harp over first.",
            why=f"Half of the strings are more than {words.amount(typical)} off.{slow}{plan}",
        )
    ]


def _tune(survey: Survey, settings: ReplySettings) -> list[Task]:
    """Only on a harp that is nearly in tune, read without doubt."""
    off = [
        row
        for row in survey.strings
        if row.status == "heard" and row.cents is not None and row.cents > settings.other_octave_cents
    ]
    worst = sorted((r for r in off if abs(r.cents or 0.0) > settings.near_cents), key=lambda r: -abs(r.cents or 0.0))
    if not worst:
        return []
    shown, rest = worst[: settings.most_strings_n], worst[settings.most_strings_n :]
    down = [row for row in reversed(survey.strings) if row in shown]
    return [
        Task(
            what="With your teacher, tune these, a little at a time, and listen to the tone of each first.",
            why="They are the furthest off. Follow each string by eye up to its own pin before it is turned.",
            strings=tuple(found(survey, row, turn=True) for row in down),
            others=_others(survey, rest),
        )
    ]


def _about(survey: Survey, rows: Sequence[StringRow], settings: ReplySettings, *, what: str, why: str) -> Task:
    """What is to be done with these rows, lowest first: the topmost described one by one, then where the others are."""
    down = rows[::-1]
    shown, rest = down[: settings.most_strings_n], down[settings.most_strings_n :]
    return Task(what=what, why=why, strings=tuple(found(survey, row) for row in shown), others=_others(survey, rest))


def _others(survey: Survey, rows: Sequence[StringRow]) -> str:
    if not rows:
        return ""
    return f"Then the same with string{'' if len(rows) == 1 else 's'} {places(survey, rows)} (counted from the top)."


def _typical(survey: Survey, settings: ReplySettings) -> float:
    """How far off half of the strings heard for sure are, cents; those that seem an octave low left out."""
    return median(abs(cents) for cents in _off(survey, settings)) if _off(survey, settings) else 0.0


def _is_slack(survey: Survey, settings: ReplySettings) -> bool:
    """Whether half of the strings are that far below their notes: a harp that is too high is not slack."""
    return bool(_off(survey, settings)) and median(_off(survey, settings)) < -_PAYING.slack_cents


def _off(survey: Survey, settings: ReplySettings) -> list[float]:
    """As the report counts them: where no name is sure, of all that were measured."""
    measured = [row for row in survey.strings if row.cents is not None and row.cents > settings.other_octave_cents]
    sure = [row for row in measured if row.status == "heard"] or measured
    return [row.cents for row in sure if row.cents is not None]


def _ask(survey: Survey, settings: ReplySettings) -> list[Task]:
    odd = [r for r in survey.strings if r.status == "heard" and r.verdict in ("dull", "false", "check by hand")]
    if not odd:
        return []
    return [
        _about(
            survey,
            odd,
            settings,
            what="At your next lesson, ask your teacher to listen to these. Buy nothing yet.",
            why="They sound unlike the strings beside them.",
        )
    ]


def _opening(survey: Survey, settings: ReplySettings) -> str:
    heard = [row for row in survey.strings if row.status != "not heard"]
    good = sum(row.cents is not None and abs(row.cents) <= settings.near_cents for row in heard)
    text = f"Thank you for the recording. {len(heard)} of {len(survey.strings)} strings were heard"
    return f"{text}, and {good or 'none'} of them {'is' if good == 1 else 'are'} close to the note."


def _pins(survey: Survey, settings: ReplySettings) -> str:
    text = (
        "Pins are turned only by someone who was shown how on this harp: your teacher, a harp technician, or you with"
        " one of them beside you. Never tune a string higher than its note."
    )
    if _is_slack(survey, settings):
        text = f"Turn no pin yet: this harp is slack, and a harp technician should look it over first. {_SLACK} {text}"
    return text if survey.layout.kind != "lever" else text + " Moving levers is safe for you to do."
