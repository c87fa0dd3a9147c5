"""Every label, caution and sentence of a plan, in one place, in British plain English. Nothing is computed here but
the wording."""

from analyzer import words
from analyzer.load import LoadSum
from analyzer.plan import Plan
from analyzer.questions import LOOK_AT, inspection_good
from analyzer.settings import PlanSettings
from analyzer.words import counted

_S = PlanSettings()

KIND = "Work order for a harp"
IN_SHORT = "In short"
CAUTIONS = "Before a pin is turned"
CAUTION_TEXTS = (
    "Where you see or hear a crack, an opening joint, a twisted neck or a soundboard pulled up more than it was: stop,"
    " let down what you raised last, and ask a qualified harp technician.",
    "Follow a string by eye and finger from the soundboard to its own pin before you turn that pin: turning the wrong"
    " pin is a common cause of broken strings.",
    "Never tune a string above its note, not even to allow for its falling.",
    "Wear glasses, keep your face out of the plane of the strings, and hold both ends of a wire when you cut it: the"
    " ends fly.",
    "A string found further down than the table says is raised by no more cents than stand under “At most”; the rest"
    " waits for the next pass.",
    "Old and historical instruments: ask first.",
)
LOOK = "Look at, before the first pass and at every stop"
LOOK_AT_TEXTS = LOOK_AT
NO_REFERENCE = "Without a tuner"
NO_REFERENCE_TEXTS = (
    "Make one note sure: middle C (C4) from any instrument that is in tune, or the tone that harp-survey tones makes.",
    "Check its octave on the harp: the string must sound between its neighbours, higher than the one below it and lower"
    " than the one above. A tuner that shows letters alone cannot tell a string from one an octave away.",
    "From C4 work outward: the octave above and below, then the notes between, each against the tone of this pass.",
    "A string that may be an octave low is checked against the same note an octave above and below before it"
    " is turned.",
)
PASS, LATER_PASS = "Pass {}", "Pass {} (provisional)"
PASS_CAPTION = "Top row first. Tick each string when it stands at its figure."
LATER = "What would follow"
LATER_WHY = (
    "These passes are foreseen as if nothing moved but the pins. They will be wrong by what the harp gives way and the"
    " strings stretch: the plan made from the next recording takes their place."
)
DONE, ORDER, STRING, HARP_NAME = "Done", "No.", "String", "Harp’s own name"
FROM, TO, HERTZ, MOST, REMARK = "From, cents", "To, cents", "To, Hz", "At most, cents", "Mind"
NOTHING_TO_DO = "The harp is in tune. There is nothing to raise."
CHECKPOINT = "Stop here"
CHECKPOINT_TEXT = (
    "Let the harp rest. Look at soundboard and joints. Record all strings again, survey that recording, and make the"
    " next plan from it with --from: it measures how this harp gives way."
)
LOAD = "Load"
LOAD_CAPTION = "The sums of the string tensions, which meet the soundboard at an angle: not the load on the soundboard."
PART, NOW, AT_PITCH, SHARE = "Part", "Now, N", "At pitch, N", "Share"
BUY = "What to buy"
NOTHING_TO_BUY = "Nothing needs to be bought."
BUY_CAPTION = (
    "C3 and 5C are the same string in two ways of counting, and C5 is another: give a seller both. Gauge: measure the"
    " old string where none stands here."
)
BUY_HEADS = (
    "Ordered", "String", "Harp’s own name", "Why", "When", "Sure", "Material", "Gauge, mm", "Stringing", "Price",
    "Total", "Mind",
)  # fmt: skip
MEASURE = "measure"
VISITS = "When to come back"
VISITS_CAPTION = (
    "New strings stretch for days to weeks, slack ones for less; then weekly is the least (common practice, no source)."
)
DAY, WHAT = "Day", "What"
SIGNED = "Done by ______________________   Date ______________   Next visit ______________"
LIMITS = "The limits, and why"
MADE_FROM = "From the survey{date}, tuned to {setting}. Lengths and gauges: {basis}."


def summary(plan: Plan) -> tuple[str, ...]:
    """The plan in a few sentences."""
    if not plan.passes:
        return (NOTHING_TO_DO, *_load(plan))
    lines = [
        f"{len(plan.passes)} {'pass' if len(plan.passes) == 1 else 'passes'}, all strings together, the longest first."
        f" Do {_first(plan.checkpoint_n)}, then stop, look and record again."
    ]
    if plan.stragglers_from is not None:
        names = words.listed(list(plan.stragglers), 12)
        lines.append(f"From pass {plan.stragglers_from} on only {names} would still be turned.")
    installs = [r.string for one in plan.passes for r in one if r.kind == "install"]
    if installs:
        lines.append(f"To be fitted or brought level: {words.listed(installs, 12)}.")
    if plan.look_first:
        lines.append(
            f"Not heard and not looked at: {words.listed(list(plan.look_first), 12)}. Look whether they are there;"
            " nothing is bought for them until you say so (--confirm)."
        )
    lowered = list(dict.fromkeys(r.string for one in plan.passes for r in one if r.kind == "lower"))
    if lowered:
        lines.append(f"Too high, let down first: {words.listed(lowered, 12)}.")
    return (*lines, *_load(plan), response(plan))


def limits(plan: Plan) -> tuple[str, ...]:
    """What bounds each pass, and why."""
    its = plan.limits
    tighter = f" Less for {words.listed(list(its.tighter), 12)} (wire, or near breaking)." if its.tighter else ""
    gentle = (
        " Gentle: all of this is half of the ordinary, for an old or weak harp or one with a finding."
        if its.gentle
        else ""
    )
    return (
        f"One turn raises a string by at most {its.turn_cents:.0f} cents and {its.turn_share:.0%} of its full tension;"
        f" one pass adds at most {its.total_share:.0%} of the harp’s full load.{tighter}{gentle}",
        f"Neighbours get no further apart than {its.apart_cents:.0f} cents, or than they were.",
        "No limit is published for harps: these are on the careful side of what restringing guides do (200 cents below,"
        " then 100, then pitch).",
        f"The limits alone ask for at least {plan.bound_n} {'pass' if plan.bound_n == 1 else 'passes'}.",
    )


def response(plan: Plan) -> str:
    """What to expect of strings already tuned."""
    found = plan.response
    if found is None:
        return (
            "As others come up, tuned strings fall: the soundboard gives way. By how much is not published for any harp"
            " and not yet measured on this one, so nothing is allowed for it; the next recording measures it."
        )
    text = (
        f"Measured on this harp over {counted(found.strings_n, 'string')}: tuned strings fall by"
        f" {words.number(found.cents, 0)} cents (95 %: {words.number(found.low_cents, 0)} to"
        f" {words.number(found.high_cents, 0)}) as the harp’s full load is added after them, so"
        f" {words.number(found.cents * plan.limits.total_share, 0)} in a full pass. The turns below pitch allow for it."
        f" Besides, strings fell by {words.number(found.settling_cents, 1)} cents by stretching."
    )
    if found.cents > _S.response_odd_cents:
        text += " That is far more than a sound harp should give: look at soundboard, joints and pins before going on."
    return text


def inspected(plan: Plan) -> str:
    """What the inspection found, as said."""
    found = plan.answers.inspected or ""
    if plan.answers.advised_by and not inspection_good(found):
        return f"Inspected: “{found}”. Raised on the advice of {plan.answers.advised_by}."
    return f"Inspected: “{found}”."


def made_from(plan: Plan) -> str:
    """Where the figures come from."""
    date = f" of {plan.survey_date}" if plan.survey_date else ""
    return MADE_FROM.format(date=date, setting=plan.setting, basis=plan.layout_basis)


def load_line(part: LoadSum) -> tuple[str, str, str, str]:
    """One line of the load table."""
    now = "" if part.tension_n is None else words.number(part.tension_n, 0)
    full = "" if part.full_tension_n is None else words.number(part.full_tension_n, 0)
    return part.name, now, full, f"{part.share:.0%}"


def total(plan: Plan) -> str:
    """What the purchases come to."""
    totals = [p.running_total for p in plan.purchases if p.running_total is not None]
    if not totals:
        return "Give a price list with --prices for prices and totals."
    text = f"In all {totals[-1]:.2f}"
    if plan.budget is not None:
        text += f" of {plan.budget:.2f}"
    unpriced = sum(p.price is None for p in plan.purchases)
    return f"{text}; without a price: {counted(unpriced, 'string')}." if unpriced else f"{text}."


def _first(passes_n: int) -> str:
    return "the first pass" if passes_n == 1 else f"the first {passes_n} passes"


def _load(plan: Plan) -> list[str]:
    whole = plan.load.whole
    lines = [f"The harp carries {whole.share:.0%} of the load it has at pitch."]
    if plan.near_breaking:
        lines.append(
            f"Close to breaking at pitch: {words.listed(list(plan.near_breaking), 12)}; a wrong gauge or string would"
            " explain it."
        )
    return lines
