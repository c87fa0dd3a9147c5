"""What whoever pays reads first, on the survey and on the comparison: may the harp be played, and what it takes."""

from analyzer import words
from analyzer.outlook import Outlook
from analyzer.paying import Paying
from analyzer.restating import restated
from analyzer.speech import mark, say, say_many

PLAYABLE = {
    "playable now": mark("Playable now"),
    "playable with limits": mark("Playable with limits"),
    "do not play": mark("Do not play"),
}
CANNOT_SAY = mark("Whether it may be played cannot be said yet")
FROM_SOUND = mark("judged from sound alone; nobody has said yet what the wood looks like")
FROM_BOTH = mark("judged from its sound and from what was said of an inspection by eye")
SOUND_ALONE = mark("judged from sound alone")
WORK = mark("Work and cost from here")
WORK_AND_STRINGS = mark("About {hours} hours in {visits}; at most {strings} to buy.")
WORK_AND_PERHAPS = mark(
    "About {hours} hours in {visits}; {least} to {most} strings to buy, as some are only perhaps worn."
)
WORK_ALONE = mark("About {hours} hours in {visits}; no string to buy.")


def first_line(outlook: Outlook) -> tuple[str, str]:
    """The verdict, and the rest of the line."""
    paying = outlook.paying
    if paying is None:
        return say(CANNOT_SAY), ". " + " ".join(restated(why).text for why in outlook.unsaid)
    basis = FROM_SOUND if outlook.answers.inspected is None else FROM_BOTH
    return say(PLAYABLE[paying.playable]), ", " + " ".join([say(basis) + ".", *_why(paying)])


def judged(paying: Paying) -> tuple[str, str]:
    """The same of a comparison, which knows of no inspection."""
    return say(PLAYABLE[paying.playable]), ", " + " ".join([say(SOUND_ALONE) + ".", *_why(paying)])


def work(paying: Paying) -> str:
    """Hours, visits and strings."""
    if least := paying.least:
        return say(WORK_AND_PERHAPS).format(
            hours=_span(_hours(least.hours), _hours(paying.hours)),
            visits=say_many("{n} visit", "{n} visits", paying.visits_n)
            if least.visits_n == paying.visits_n
            else say("{low} to {high} visits").format(low=least.visits_n, high=paying.visits_n),
            least=least.strings_n,
            most=paying.strings_n,
        )
    return say(WORK_AND_STRINGS if paying.strings_n else WORK_ALONE).format(
        hours=_hours(paying.hours),
        visits=say_many("{n} visit", "{n} visits", paying.visits_n),
        strings=say_many("{n} string", "{n} strings", paying.strings_n),
    )


def cost(paying: Paying) -> str:
    """What it comes to."""
    if paying.cost is None:
        return say("No total: the owner’s rates were not given.")
    least = paying.cost if paying.least is None or paying.least.cost is None else paying.least.cost
    return say("Together about {sum} by the owner’s own rates.").format(sum=_span(_money(least), _money(paying.cost)))


def basis(paying: Paying) -> tuple[str, ...]:
    """How the figures come about."""
    return tuple(restated(line).text for line in paying.basis)


def _hours(hours: float) -> str:
    """To the hour, below two to the half: the minutes behind them are our judgement."""
    return words.number(hours, 0) if hours >= 2.0 else words.number(round(2 * hours) / 2, 1)


def _money(sum_: float) -> str:
    """To two digits, as the hours are."""
    return words.number(words.two_digits(sum_), 0)


def _span(low: str, high: str) -> str:
    return low if low == high else say("{low} to {high}").format(low=low, high=high)


def _why(paying: Paying) -> list[str]:
    return [restated(why).text for why in paying.why]
