"""Every label and fixed text of the before-and-after document, noted for translation; its sentences about this harp are
those of the comparison, said again by `restating`."""

from analyzer import words
from analyzer.changes import Pair, StringChange
from analyzer.comparison import Comparison
from analyzer.restating import restated
from analyzer.sentences import renamed
from analyzer.speech import mark, say, say_many

_SURE = 0.95
"""What the intervals of a comparison hold (JCGM 100)."""
KIND, KIND_REGULATION = mark("Before and after"), mark("Regulation")
FROM_TO = mark("{first} to {last}")
NO_DATE = mark("no date")
ASSET, LENT_TO = mark("Asset number"), mark("Lent to")
CHANGED = mark("What changed")
RELY = mark("Before you rely on it")
LENT = mark("Condition at issue and at return")
LENT_CAPTION = mark(
    "What differs, and whether sound tells wear from damage. A recording does not show why a string is gone."
)
LENT_COLUMNS = (mark("String"), mark("What"), mark("Cause"))
NO_DIFFERENCE = mark("No difference that can be shown.")
RAISES = mark("What each lever or pedal raises")
RAISES_CAPTION = mark("Rise from open to engaged, in cents; ± is half of its 95 % interval. A semitone is 100.")
RAISES_COLUMNS = {
    "string": mark("String"),
    "rise": mark("Rise"),
    "should": mark("It should be"),
    "off": mark("Off by"),
    "raising": mark("Raises"),
    "sound": mark("Sound"),
    "remarks": mark("Remarks"),
}
RAISING = {
    "too much": mark("too much"),
    "too little": mark("too little"),
    "as it should": mark("as it should"),
    "not raised": mark("not raised"),
    "not judged": mark("not judged"),
    "": mark("not moved"),
}
WORSE_ENGAGED = mark("▲ worse engaged")
STOOD = mark("Where each string stood")
OFF_SCALE = mark("Off the scale: {names}.")
SETTLES = mark("How it settles, and how often to tune")
DRIFT_ALT = mark("The fitted drift of each string over the days, in cents")
DRIFT = mark("The fitted drift of each string since {date} in cents, retunings shown as steps.")
DASHED = mark("Dashed: {names}.")
STRINGS = mark("String by string")
BEFORE, AFTER = mark("Before"), mark("after")
STRINGS_CAPTION = mark(
    "Lowest string first. “Change” is of the pitch itself. ± is half of a figure’s own 95 % interval; that of the"
    " change is that of both measurements together, narrower than either’s where the same partials were heard twice."
)
COLUMNS = {
    "string": mark("String"),
    "before": mark("Before, cents"),
    "after": mark("After, cents"),
    "change": mark("Change, cents"),
    "pitch": mark("Pitch"),
    "decay_before": mark("Decay before, s"),
    "decay_after": mark("After, s"),
    "state_before": mark("State before"),
    "state_after": mark("State after"),
    "effect": mark("In all"),
    "remarks": mark("Remarks"),
}
IN_ALL = mark("In all")
ALL_EFFECTS = mark("all strings")
MORE_THAN, CENTS_MOVED = mark("moved by more than"), mark("cents")
EFFECTS = {
    "better": mark("better"),
    "worse": mark("worse"),
    "no change that can be shown": mark("no change that can be shown"),
    "changed": mark("changed"),
    "new": mark("new"),
    "gone": mark("gone"),
    "cannot be said": mark("cannot be said"),
}
NEW = {"stated": mark("as stated"), "possible": mark("possibly new")}
METHOD_TEXTS = (
    mark(
        "A change counts when it is larger than both measurements’ joint 95 % interval: two pitches, two recorders’"
        " clocks, and what a second pluck of the same string may read differently (JCGM 100). “No change that can be"
        " shown” does not say that nothing changed."
    ),
    mark(
        "Decay and brightness are compared after the straight line through the differences of each string’s nearest"
        " neighbours is taken out (Theil–Sen); what happened to all strings of a stretch alike cannot be seen."
    ),
)
SURVEYS_CAPTION = mark("The surveys, in order of time.")
SURVEYS_COLUMNS = (
    mark("Date"),
    mark("Survey"),
    mark("Heard"),
    mark("Not heard"),
    mark("Uncertain"),
    mark("Half are further off than, cents"),
    mark("Dull"),
    mark("Humidity"),
    mark("Temperature"),
)
SURVEY_HASH, RECORDING_HASH = mark("survey"), mark("recording")
SIGN_LINES = (mark("Technician: {name}"), mark("Date"), mark("Signature"))


def named(comparison: Comparison, text: str) -> str:
    """The text with strings named by their notes; where levers or pedals were moved, by the strings themselves."""
    rows = comparison.pairs[-1].strings
    return renamed(text, {} if comparison.regulation else {row.string: row.note for row in rows})


def days(comparison: Comparison) -> str:
    """From when to when."""
    first, last = comparison.surveys[0].date, comparison.surveys[-1].date
    return say(FROM_TO).format(first=first or "?", last=last) if last else ""


def surveys_of(comparison: Comparison) -> str:
    """How many surveys of which layout."""
    many = say_many(
        "{n} survey of the layout {layout}.", "{n} surveys of the layout {layout}.", len(comparison.surveys)
    )
    return many.format(layout=comparison.surveys[-1].layout)


def pair_name(before_date: str, after_date: str) -> str:
    """Two surveys that follow one another."""
    return say("{before} and {after}").format(before=before_date or say(BEFORE), after=after_date or say(AFTER))


def changed(row: StringChange) -> str:
    """Whether a change is shown, in words."""
    if row.changed is None:
        return say("cannot be said")
    if not row.changed:
        return say("not shown to move")
    return say("rose") if (row.change_cents or 0.0) > 0 else say("fell")


def load(before: float | None, after: float | None) -> str:
    """The harp's load, before and after."""
    return say("Load: about {before} of that in tune before, {after} after (sum of string tensions).").format(
        before=_share(before), after=_share(after)
    )


def taken_out(decay_ratio: float | None, brightness_db: float | None) -> str:
    """What all strings have in common; empty where nothing was compared."""
    if decay_ratio is None:
        return ""
    ratio = words.number(decay_ratio, 2)
    if brightness_db is None:
        return say(
            "What all strings have in common, and so may be the phone or the room, was taken out of decay (a factor of"
            " {ratio}) before strings were compared."
        ).format(ratio=ratio)
    return say(
        "What all strings have in common, and so may be the phone or the room, was taken out of decay (a factor of"
        " {ratio}) and brightness ({db} dB) before strings were compared."
    ).format(ratio=ratio, db=words.number(brightness_db, 1))


def by_chance(pair: Pair) -> str:
    """How many of the comparisons would show a change where there is none; empty where there were hardly any."""
    values = [v for r in pair.strings for v in (r.changed, r.decay_ratio, r.brightness_change_db) if v is not None]
    by_chance_n = round((1.0 - _SURE) * len(values))
    if not by_chance_n:
        return ""
    return say(
        "Of {n} comparisons made here, of pitch, decay and brightness, each at 95 %, about {by_chance} would show a"
        " change with nothing changed."
    ).format(n=len(values), by_chance=by_chance_n)


def places_alt(both_n: int, nearer_n: int) -> str:
    """What the drawing of the places shows in this case."""
    text = say_many(
        "Each string’s distance from its note, before (open ring) and after (full dot), pale bars their 95 % intervals:"
        " of {of} strings with both figures, {n} is shown to be nearer to the note after.",
        "Each string’s distance from its note, before (open ring) and after (full dot), pale bars their 95 % intervals:"
        " of {of} strings with both figures, {n} are shown to be nearer to the note after.",
        nearer_n,
    )
    return text.format(of=both_n)


def found(what: str) -> str:
    """One difference between issue and return."""
    return restated(what).text


def _share(share: float | None) -> str:
    return say(words.NOT_KNOWN) if share is None else words.share(share)
