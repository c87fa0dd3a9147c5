"""Triage: one survey -> one instrument's line in a collection: its figures, and what it needs first and why.

Conventions as in `survey`. Counts are of strings; `median_abs_cents` and `worst_cents` are over every string with a
figure in cents, as they can be recomputed from `strings.csv`.

What comes first, our judgement: a string that is too tight breaks, or the harp does; where the recording can be read in
another way, every figure hangs on that, so none is given and a look at the levers comes first; what was hardly measured
must be recorded while the harp is still at hand; a hole is heard in every piece; a slack harp takes days of small
passes, so it is begun early; then false and dull strings; then what only needs tuning. Within each, the worse harp
first.

Strings are worn where it is likely that at least one is: a single doubtful one is no reason to call a harp worn.

Purchases count every string not heard as missing, which is the most that can be needed: somebody must look first.
"""

import math
from dataclasses import dataclass
from statistics import median
from typing import Literal

from analyzer.answers import Answers
from analyzer.digest import Digest, digest
from analyzer.doubts import LOWERED, RAISED
from analyzer.plan import Preview, preview
from analyzer.prices import Prices
from analyzer.purchases import what_to_buy
from analyzer.settings import BatchSettings, ReportSettings
from analyzer.spelling import amount, counted, listed, note
from analyzer.survey import StringRow, Survey

Need = Literal[
    "too tight", "settle first", "record again", "strings missing", "slack", "worn strings", "tuning", "nothing"
]
Quality = Literal["good", "fair", "poor"]
NEEDS: tuple[Need, ...] = (
    "too tight",
    "settle first",
    "record again",
    "strings missing",
    "slack",
    "worn strings",
    "tuning",
    "nothing",
)
"""In the order of work."""

_DEFAULTS = BatchSettings()
_REPORT = ReportSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class Buy:
    """One string that may have to be bought."""

    string: str
    reason: str
    material: str
    stringing: str
    price: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One instrument of a collection."""

    layout: str
    heard_n: int
    not_heard_n: int
    uncertain_n: int
    median_abs_cents: float | None
    """This, the next and those of the work ahead are None too while the recording can be read in another way."""
    worst_cents: float | None
    """The deviation furthest from 0, with its sign."""
    dying_soon_n: int
    """`dull` of `strings.csv`: those of which the name is not sure, or which something else ails too, among them."""
    dull_n: int
    """Verdict `dull`: those that the purchases and `why` name."""
    false_n: int
    passes_n: int | None
    """None where no number of passes can be named."""
    load_share: float | None
    purchase_total: float | None
    """By the price list, of what it has a price for; None without one."""
    unpriced_n: int
    """Strings to buy without a price."""
    purchases: tuple[Buy, ...]
    recording_quality: Quality
    confidence: float | None
    """Median probability that a pluck is the string it was taken for."""
    need: Need
    why: str
    """In a sentence."""
    weight: float
    """How bad it is among those of the same need; higher is worse."""
    spark_cents: tuple[int | None, ...]
    """Deviation of each string, lowest first, whole cents within `BatchSettings.spark_cents`, for a small chart."""


def line_of(
    survey: Survey,
    prices: Prices | None,
    settings: BatchSettings = _DEFAULTS,
    report: ReportSettings = _REPORT,
) -> Line:
    """The line of one instrument. Without `prices` nothing is totalled."""
    d = digest(survey, report)
    ahead = preview(survey)
    doubted = _doubted(survey)
    purchases = () if doubted else what_to_buy(survey, Answers(confirm_all=True), prices)
    priced = [p.price for p in purchases if p.price is not None]
    off = [] if doubted else [row.cents for row in survey.strings if row.cents is not None]
    sure = [row.match_confidence for row in survey.strings if row.match_confidence is not None]
    need, why, weight = _first(survey, d, ahead, settings, report)
    edge = settings.spark_cents
    return Line(
        layout=survey.layout.name,
        heard_n=sum(row.status == "heard" for row in survey.strings),
        not_heard_n=len(d.not_heard),
        uncertain_n=len(d.uncertain),
        median_abs_cents=median(map(abs, off)) if off else None,
        worst_cents=max(off, key=abs, default=None),
        dying_soon_n=sum(row.dull is True for row in survey.strings),
        dull_n=len(d.dull),
        false_n=len(d.false),
        passes_n=None if doubted else ahead.passes_n,
        load_share=None if doubted else ahead.load_share,
        purchase_total=None if prices is None or doubted else round(sum(priced), 2),
        unpriced_n=len(purchases) - len(priced),
        purchases=tuple(
            Buy(string=p.string, reason=p.reason, material=p.material, stringing=p.stringing, price=p.price)
            for p in purchases
        ),
        recording_quality="poor" if d.serious_n else "fair" if d.warnings_n else "good",
        confidence=median(sure) if sure else None,
        need=need,
        why=f"Ask first how levers or discs of single strings stood. {why}" if survey.doubts and not doubted else why,
        weight=weight,
        spark_cents=tuple(
            None if row.cents is None or doubted else round(max(-edge, min(edge, row.cents))) for row in survey.strings
        ),
    )


def _first(
    survey: Survey, d: Digest, ahead: Preview, settings: BatchSettings, report: ReportSettings
) -> tuple[Need, str, float]:
    """What the harp needs first, why, and how much of it."""
    strings_n = len(survey.strings)
    sure_n = sum(row.status == "heard" for row in d.measured)
    off = d.median_abs_cents or 0.0
    passes_n, most_up_n = ahead.passes_n, ahead.most_up_n
    passes = "" if most_up_n is None else f", {most_up_n} {'pass' if most_up_n == 1 else 'passes'}"
    if passes_n != most_up_n:  # one string an octave down would make a slack harp look like weeks of work
        passes += f", {passes_n} for the furthest strings"
    typical = f"half of the strings are more than {amount(off)} off{passes}"
    asked = {string for doubt in survey.doubts for string in doubt.strings}  # raised by a lever, perhaps
    tight = tuple(row for row in d.sharp if _off(row) >= report.slack_cents and row.string not in asked)
    worn = (*d.false, *d.dull)
    if _doubted(survey):
        why = "Settle first what else the recording may say: every figure hangs on that."
        return "settle first", why, max(map(_off, tight), default=0.0)
    if tight:
        most = max(map(_off, tight))
        be = "is" if len(tight) == 1 else "are"
        return "too tight", f"{_names(tight, settings)} {be} sharp by up to {amount(most)}: let down first.", most
    if sure_n < settings.measured_share * strings_n:
        return (
            "record again",
            f"Only {sure_n} of {strings_n} strings were measured for sure.",
            float(strings_n - sure_n),
        )
    if d.not_heard:
        gone = f"{counted(len(d.not_heard), 'string')} not heard ({_names(d.not_heard, settings)})"
        return "strings missing", f"{gone}; {typical}.", len(d.not_heard) / strings_n
    if off >= report.slack_cents:
        return "slack", f"{typical.capitalize()}.", off
    if _some_worn(worn) >= settings.worn_probability:
        what = f"{len(d.false)} false and {len(d.dull)} dull" if d.false and d.dull else "false" if d.false else "dull"
        count = "" if d.false and d.dull else f"{counted(len(worn), 'string')} "
        weight = float(strings_n * len(d.false) + len(d.dull))
        return "worn strings", f"{count}{what} ({_names(worn, settings)}); {typical}.", weight
    if d.flat or d.sharp or d.octave_low or asked:
        return "tuning", f"{typical.capitalize()}.", off
    return "nothing", "In tune.", 0.0


def _doubted(survey: Survey) -> bool:
    """Whether the whole recording can be read in another way, and not only whether levers of single strings were on."""
    return any(doubt.code not in (RAISED, LOWERED) for doubt in survey.doubts)


def _some_worn(rows: tuple[StringRow, ...]) -> float:
    """Probability that at least one of the strings judged dull or false is so."""
    sound = [1.0 - max(row.dull_probability or 0.0, row.false_probability or 0.0) for row in rows]
    return 1.0 - math.prod(sound)


def _off(row: StringRow) -> float:
    return row.cents or 0.0


def _names(rows: tuple[StringRow, ...], settings: BatchSettings) -> str:
    return listed([note(row.note) for row in rows], settings.names_n)
