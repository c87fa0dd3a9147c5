"""Every label, caution and sentence of a plan, in one place, in British plain English, noted for translation.
Nothing is computed here but the wording."""

from collections.abc import Iterable, Sequence

from analyzer import words
from analyzer.answers import Answers
from analyzer.load import LoadSum
from analyzer.notes import harp_octave as harp_octave
from analyzer.plan import Plan
from analyzer.purchases import Purchase
from analyzer.questions import LOOK_AT, inspection_good
from analyzer.restating import restated
from analyzer.settings import PlanSettings
from analyzer.speech import mark, say, say_many
from analyzer.worklist import closing

_S = PlanSettings()

KIND = mark("Work order for a harp")
IN_SHORT = mark("In short")
CAUTIONS = mark("Before a pin is turned")
CAUTION_TEXTS = (
    mark(
        "Where you see or hear a crack, an opening joint, a twisted neck or a soundboard pulled up more than it was:"
        " stop, let down what you raised last, and ask a qualified harp technician."
    ),
    mark(
        "Follow a string by eye and finger from the soundboard to its own pin before you turn that pin: turning the"
        " wrong pin is a common cause of broken strings."
    ),
    mark("Never tune a string above its note, not even to allow for its falling."),
    mark(
        "Wear glasses, keep your face out of the plane of the strings, and hold both ends of a wire when you cut it:"
        " the ends fly."
    ),
    mark(
        "A string found further down than the table says is raised by no more cents at a time than stand under “At"
        " most”. If the strings beside it have not fallen as well, its pin slips: leave it there until the next pass."
    ),
    mark("Old and historical instruments: ask first."),
)
LOOK = mark("Look at, before the first pass and at every stop")
LOOK_AT_TEXTS = LOOK_AT
AS_BEFORE = mark("as before")
NO_REFERENCE = mark("Without a tuner")
NO_REFERENCE_TEXTS = (
    mark(
        "Tune by the tones of this pass, which harp-survey tones makes: they are this harp’s notes, where this pass"
        " leaves them. Another instrument does not give them, even in tune: most passes end below the notes, and a"
        " string of a harp tuned in flats is not the note of that letter elsewhere."
    ),
    mark(
        "Check the octave of each string on the harp: it must sound between its neighbours, higher than the one below"
        " it and lower than the one above. A tuner that shows letters alone cannot tell a string from one an octave"
        " away."
    ),
    mark(
        "Follow the table from the top, as with a tuner, each string against its own tone of this pass; the tones come"
        " in that order."
    ),
    mark(
        "A string that may be an octave low is checked against the same note an octave above and below before it"
        " is turned."
    ),
)
PASS, LATER_PASS = mark("Pass {}"), mark("Pass {} (provisional)")
PASS_CAPTION = mark("Top row first. Tick each string when it stands at its figure.")
LATER_CAPTION = mark("Top row first.")
LATER = mark("What would follow")
LATER_WHY = mark(
    "These passes are foreseen as if nothing moved but the pins. They will be wrong by what the harp gives way and the"
    " strings stretch: the plan made from the next recording takes their place."
)
DONE, ORDER, STRING, HARP_NAME = mark("Done"), mark("No."), mark("String"), mark("Harp’s own name")
FROM, TO, HERTZ = mark("From, cents"), mark("To, cents"), mark("To, Hz")
END, MOST, REMARK = mark("At the end, cents"), mark("At most, cents"), mark("Remarks")
NOTHING_TO_DO = mark("The harp is in tune. There is nothing to raise.")
CHECKPOINT = mark("Stop here")
CHECKPOINT_MEASURING = mark(
    "Let the harp rest. Look at soundboard and joints. Record all strings again, survey that recording, and make the"
    " next plan from it with --from: it measures how this harp gives way."
)
CHECKPOINT_GOING_ON = mark(
    "Let the harp rest. Look at soundboard and joints. Record all strings again, survey that recording, and make the"
    " next plan from it with --from: it starts from where the strings then stand."
)
LOAD = mark("Load")
LOAD_CAPTION = mark(
    "The sums of the string tensions, which meet the soundboard at an angle: not the load on the soundboard."
    " To two digits: lengths and gauges are seldom known closer."
)
PART, NOW, AT_PITCH, SHARE = mark("Part"), mark("Now, N"), mark("At pitch, N"), mark("Share")
BUY = mark("What to buy")
NOTHING_TO_BUY = mark("Nothing needs to be bought.")
BUY_CAPTION = mark(
    "C3 and 5C are the same string in two ways of counting, and C5 is another: give a seller both. Gauge: measure the"
    " old string where none stands here."
)
BUY_HEADS = {
    "ordered": mark("Ordered"),
    "string": STRING,
    "harp_name": HARP_NAME,
    "reason": mark("Why"),
    "urgency": mark("When"),
    "confidence": mark("Sure"),
    "material": mark("Material"),
    "gauge": mark("Gauge, mm"),
    "stringing": mark("Stringing"),
    "price": mark("Price"),
    "total": mark("Total"),
    "remark": REMARK,
}
MEASURE = mark("measure")
REASONS = {
    "missing": mark("missing"),
    "to be replaced": mark("to be replaced"),
    "false": mark("false"),
    "dull": mark("dull"),
    "spare": mark("spare"),
}
URGENCIES = {
    "first": mark("at once"),
    "soon": mark("soon"),
    "when money allows": mark("when money allows"),
    "with the order": mark("with the order"),
    "later: over the budget": mark("later: over the budget"),
}
MATERIALS = {
    "gut": mark("gut"),
    "nylon": mark("nylon"),
    "carbon": mark("carbon"),
    "wire": mark("wire"),
    "wound nylon": mark("wound nylon"),
    "steel": mark("steel"),
    "brass": mark("brass"),
    "unknown": "",
}
STRINGINGS = {"concert": mark("concert"), "lever gut": mark("lever gut"), "light": mark("light")}
VISITS = mark("When to come back")
VISITS_CAPTION = mark(
    "New strings stretch for days to weeks, slack ones for less; then weekly is the least (common practice, no source)."
)
DAY, WHAT = mark("Day"), mark("What")
SIGNED = (mark("Done by"), mark("Date"), mark("Next visit"))
LIMITS = mark("The limits, and why")
MADE_FROM = mark("From the survey, tuned to {setting}. Lengths and gauges: {basis}.")
MADE_FROM_DATED = mark("From the survey of {date}, tuned to {setting}. Lengths and gauges: {basis}.")
AS_CSV = mark("The turns as CSV")
LOAD_AS_CSV = mark("The load of each string as CSV")
BUY_AS_CSV = mark("The purchases as CSV")
BUY_SHOWN = mark("{} of {} purchases shown")
ALL_REASONS = mark("any reason")
IN_ORDER = mark("the most urgent first")
_NAMES_N = 12


def summary(plan: Plan) -> tuple[str, ...]:
    """The plan in a few sentences."""
    if not plan.passes:
        return (say(NOTHING_TO_DO), *_load(plan))
    passes_n, first_n = len(plan.passes), plan.checkpoint_n
    lines = [
        say_many(
            "{n} pass, all strings together, the longest first.",
            "{n} passes, all strings together, the longest first.",
            passes_n,
        )
        + " "
        + say_many(
            "Do the first pass, then stop, look and record again.",
            "Do the first {n} passes, then stop, look and record again.",
            first_n,
        )
    ]
    if _only_retuned(plan):
        lines = [
            say("Nothing is left to raise: this pass sets right what has fallen a little, as every re-tuning does."),
        ]
    if plan.stragglers_from is not None:
        lines.append(
            say("From pass {first} on only {names} would still be turned.").format(
                first=plan.stragglers_from, names=_named(plan, plan.stragglers)
            )
        )
    installs = [r.string for one in plan.passes for r in one if r.kind == "install"]
    if installs:
        lines.append(say("To be fitted or brought level: {names}.").format(names=_named(plan, installs)))
    if plan.look_first:
        lines.append(
            say(
                "Not heard and not looked at: {names}. Look first what is there; for what was not heard nothing is"
                " bought until you say so (--confirm)."
            ).format(names=_named(plan, plan.look_first))
        )
    lowered = list(dict.fromkeys(r.string for one in plan.passes for r in one if r.kind == "lower"))
    if lowered:
        lines.append(say("Too high, let down first: {names}.").format(names=_named(plan, lowered)))
    return (*lines, *_load(plan), response(plan))


def _only_retuned(plan: Plan) -> bool:
    """Whether no string is far enough down that it could be said to be raised."""
    starts = [row.from_cents for one in plan.passes for row in one]
    return all(c is not None and abs(c) <= _S.retune_cents for c in starts)


def limits(plan: Plan) -> tuple[str, ...]:
    """What bounds each pass, and why."""
    its = plan.limits
    bounds = [
        say(
            "One pass is planned to raise a string by at most {cents} cents and {share} of its full tension, however"
            " often it is set right in it, and to add at most {total} of the harp’s full load. What has fallen since"
            " the recording and is brought back comes on top: on simulated harps up to {more} cents of a string, and"
            " {over} of the limit of the load."
        ).format(
            cents=words.number(its.turn_cents, 0),
            share=words.share(its.turn_share),
            total=words.share(its.total_share),
            more=words.number(_S.turn_over_cents, 0),
            over=words.share(_S.load_over_share),
        )
    ]
    if its.tighter:
        bounds.append(say("Less for {names} (wire, or near breaking).").format(names=_named(plan, its.tighter)))
    if its.gentle:
        bounds.append(
            say("Gentle: all of this is half of the ordinary, for an old or weak harp or one with a finding.")
        )
    return (
        say(
            "A pass is one sitting: once down the table, then through it again for what has fallen meanwhile; then the"
            " harp rests."
        ),
        " ".join(bounds),
        say("Neighbours get no further apart than {cents} cents, or than they were.").format(
            cents=words.number(its.apart_cents, 0)
        ),
        say(
            "No limit is published for harps: these are on the careful side of what restringing guides do (200 cents"
            " below, then 100, then pitch)."
        ),
        say_many(
            "The limits alone ask for at least {n} pass.",
            "The limits alone ask for at least {n} passes.",
            plan.bound_n,
        ),
    )


def checkpoint(plan: Plan) -> str:
    """What to do where the work stops."""
    return say(CHECKPOINT_MEASURING if plan.measuring else CHECKPOINT_GOING_ON)


def after(plan: Plan, n: int) -> str:
    """What ends pass `n`, in the stage's words."""
    return closing(n, plan.checkpoint_n, len(plan.passes))


def response(plan: Plan) -> str:
    """What to expect of strings already tuned."""
    found = plan.response
    if found is None:
        unknown = say(
            "As others come up, tuned strings fall: the soundboard gives way. By how much is not published for any harp"
            " and not yet measured on this one, so nothing is allowed for it; the next recording measures it."
        )
        if not plan.measuring:
            return say(
                "As others come up, tuned strings fall: the soundboard gives way. By how much is not published for any"
                " harp and not yet measured on this one, so nothing is allowed for it; each pass sets right at its end"
                " what has fallen."
            )
        names = _named(plan, plan.measuring)
        left = (
            say("The first pass leaves {name} as it falls, to measure it.").format(name=names)
            if len(plan.measuring) == 1
            else say("The first pass leaves {names} as they fall, to measure it.").format(names=names)
        )
        return f"{unknown} {left}"
    text = say(
        "Measured on this harp over {strings}: tuned strings fall by {cents} cents (95 %: {low} to {high}) as the"
        " harp’s full load is added after them, so {each} in a full pass. The turns below pitch allow for it. Besides,"
        " strings fell by {settling} cents by stretching."
    ).format(
        strings=say_many("{n} string", "{n} strings", found.strings_n),
        cents=words.number(found.cents, 0),
        low=words.number(found.low_cents, 0),
        high=words.number(found.high_cents, 0),
        each=words.number(found.cents * plan.limits.total_share, 0),
        settling=words.number(found.settling_cents, 1),
    )
    if found.cents > _S.response_odd_cents:
        text += " " + say(
            "That is far more than a sound harp should give: look at soundboard, joints and pins before going on."
        )
    return text


def inspected(answers: Answers) -> str:
    """What the inspection found, as said."""
    found = answers.inspected or ""
    text = say("Inspected: “{found}”.").format(found=found)
    if answers.advised_by and not inspection_good(found):
        text += " " + say("Raised on the advice of {name}.").format(name=answers.advised_by)
    return text


def made_from(plan: Plan) -> str:
    """Where the figures come from."""
    return say(MADE_FROM_DATED if plan.survey_date else MADE_FROM).format(
        date=plan.survey_date, setting=restated(plan.setting).text, basis=restated(plan.layout_basis).text
    )


def load_line(part: LoadSum) -> tuple[str, str, str, str]:
    """One line of the load table."""
    now, full = (
        "" if force is None else words.number(words.two_digits(force), 0)
        for force in (part.tension_n, part.full_tension_n)
    )
    return restated(part.name).text, now, full, words.share(part.share)


def total(purchases: Sequence[Purchase], budget: float | None, *, priced: bool) -> str:
    """What the purchases come to, as far as the budget reaches; `priced`: whether there is a price list."""
    if not priced:
        return say("Give a price list with --prices for prices and totals.")
    totals = [p.running_total for p in purchases if p.running_total is not None]
    text = say("In all {sum}").format(sum=words.number(totals[-1] if totals else 0.0, 2))
    if budget is not None:
        text += say(" of {budget}").format(budget=words.number(budget, 2))
    unpriced = sum(p.price is None for p in purchases)
    without = say_many("; without a price: {n} string", "; without a price: {n} strings", unpriced) if unpriced else ""
    return f"{text}{without}."


def height(string: str) -> int:
    """Sorts strings by their place on the harp."""
    return 7 * int(string[1:]) + "CDEFGAB".index(string[0])


def _named(plan: Plan, names: Iterable[str]) -> str:
    """Strings by their notes, as the tables of the passes name them."""
    notes = {row.string: row.note for one in plan.passes for row in one}
    return words.listed([words.note(notes.get(name, name)) for name in names], _NAMES_N)


def _load(plan: Plan) -> list[str]:
    lines = [
        say("The harp carries {share} of the load it has at pitch.").format(share=words.share(plan.load.whole.share))
    ]
    if plan.near_breaking:
        lines.append(
            say("Close to breaking at pitch: {names}; a wrong gauge or string would explain it.").format(
                names=_named(plan, plan.near_breaking)
            )
        )
    return lines
