"""Every label and fixed text of a collection's page and of the short page of each harp in it, noted for translation."""

from analyzer import words
from analyzer.collection_tables import Collection, Total
from analyzer.speech import mark, say, say_many
from analyzer.triage import Line

KIND = mark("Harp collection")
TITLE = mark("What to work on first")
SUMMARY = mark("In short")
NONE_SURVEYED = mark("No instrument could be surveyed.")
ORDER = mark(
    "Sorted by what needs work first: strings that are too tight; harps whose recording can be read in another way,"
    " to be settled first; harps to record again; missing strings; slack harps, which take days of small passes; worn"
    " strings; tuning. Have a qualified harp technician look at a slack or old harp before its strings are brought up."
)
NEEDS = {
    "too tight": mark("too tight"),
    "settle first": mark("settle first"),
    "record again": mark("record again"),
    "strings missing": mark("strings missing"),
    "slack": mark("slack"),
    "worn strings": mark("worn strings"),
    "tuning": mark("tuning"),
    "nothing": mark("nothing"),
}
FAILURES = mark("Recordings that gave nothing")
FAILURES_CAPTION = mark("Each with its reason. The same command tries them again once they are replaced. As a file:")
FAILURES_COLUMNS = (mark("Recording"), mark("Why"), mark("Instrument"))
INSTRUMENTS = mark("Instruments")
SEARCH = mark("Name, place or note")
ANYTHING, ANY = mark("anything"), mark("any")
SHOWN = mark("{} of {} instruments shown")
ORDER_OF_WORK = mark("in the order of work")
CAPTION = mark(
    "One line for each harp. “Off by” is what half of its strings exceed; the strokes show each string, lowest at the"
    " left, from −{edge} to +{edge} cents. “Not heard” strings count as missing among the purchases until someone"
    " looks. As a file:"
)
COLUMNS = {
    "instrument": mark("Instrument"),
    "need": mark("Needs"),
    "why": mark("Why"),
    "off": mark("Off by, cents"),
    "strings": mark("Strings"),
    "load": mark("Load"),
    "not_heard": mark("Not heard"),
    "dull": mark("Dull"),
    "false": mark("False"),
    "passes": mark("Passes"),
    "buy": mark("To buy"),
    "cost": mark("Cost"),
    "sure": mark("Names sure"),
    "recording": mark("Recording"),
}
SORTED = ("need", "off", "load", "not_heard", "dull", "false", "passes", "buy", "cost", "sure")
LAYOUT, PLACE = mark("Layout"), mark("Place")
QUALITIES = {"good": mark("good"), "fair": mark("fair"), "poor": mark("poor")}
BUY = mark("To buy, for all harps together")
BUY_CAPTION = mark(
    "The most that can be needed: look at every string not heard before ordering, and measure what it is to replace. As"
    " a file:"
)
BUY_COLUMNS = {
    "string": mark("String"),
    "count": mark("How many"),
    "material": mark("Material"),
    "stringing": mark("Stringing"),
    "why": mark("Why"),
    "price": mark("Each"),
    "total": mark("Together"),
    "instruments": mark("For"),
}
BUY_SHOWN = mark("{} of {} lines shown")
BUY_ORDER = mark("as on a string maker’s list")
REASONS = {
    "missing": mark("not heard"),
    "false": mark("false"),
    "dull": mark("dull"),
    "to be replaced": mark("to be replaced"),
    "spare": mark("spare"),
}
AS_CSV = mark("All figures as CSV")

SHORT_KIND = mark("Harp survey, in short")
SETTLE = mark("To be settled first")
STRINGS = mark("Strings")
STRINGS_CAPTION = mark("Lowest first. As a file:")
STRINGS_COLUMNS = {
    "string": mark("String"),
    "note": mark("Tuned to"),
    "state": mark("State"),
    "cents": mark("Off by, cents"),
    "cents_u95": "±",
    "decay": mark("Rings, s"),
    "remarks": mark("Remarks"),
}
RECORDING = mark("Recording: {name}")
NOTHING_SPOILS = mark("Nothing in it spoils the measurement.")


def surveyed(collection: Collection) -> str:
    """How many there are."""
    text = say_many(
        "{n} instrument surveyed from its recording",
        "{n} instruments surveyed from their recordings",
        len(collection.rows),
    )
    if failed_n := len(collection.failures):
        text += say_many("; {n} recording could not be used", "; {n} recordings could not be used", failed_n)
    return text + "."


def priced(total: float, unpriced_n: int) -> str:
    """What all purchases come to."""
    text = say("By the price list: {sum}").format(sum=words.number(total, 2))
    if unpriced_n:
        text += say_many(
            ", and {n} string that it has no price for",
            ", and {n} strings that it has no price for",
            unpriced_n,
        )
    return text + "."


def cost(line: Line) -> str:
    """What one harp's purchases come to; what has no price is counted, not taken for nothing."""
    known = "" if line.purchase_total is None else words.number(line.purchase_total, 2)
    if not line.unpriced_n:
        return known
    unpriced = say_many("{n} without a price", "{n} without a price", line.unpriced_n)
    return unpriced if line.unpriced_n == len(line.purchases) else f"{known}, {unpriced}"


def reasons(total: Total) -> str:
    """Why how many are to be bought."""
    return ", ".join(f"{n} {say(REASONS.get(reason, reason))}" for reason, n in total.reasons.items())
