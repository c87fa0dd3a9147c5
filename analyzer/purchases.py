"""Purchases: what to buy, in which order, for how much.

Task: a survey, what was confirmed, and perhaps the owner's own price list and budget -> a list one can order from.

Conventions: prices in the owner's own currency, which is never named; strings by scientific pitch notation and by
the harp's own octaves side by side, because the two numberings collide (C5 is not 5C). A gauge is given only where
the layout's figures are measured: an estimate never drives a purchase.

Order: strings that are absent (a hole in every piece), then false ones (they cannot be put in tune), then dull
ones, which still play; within each, by how sure it is and how little it costs. Spares come last, and only where the
budget reaches every string that is to be put on now. What it does not reach is listed for later. A string not heard
counts only once someone has looked.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from analyzer import words
from analyzer.answers import Answers
from analyzer.layout import Layout, LayoutString
from analyzer.notes import harp_octave
from analyzer.prices import PriceLine, Prices
from analyzer.questions import absence, absent, said_missing
from analyzer.settings import PlanSettings
from analyzer.survey import StringRow, Survey

Reason = Literal["missing", "to be replaced", "false", "dull", "spare"]
Urgency = Literal["first", "soon", "when money allows", "with the order", "later: over the budget"]

_URGENCY: dict[Reason, Urgency] = {
    "missing": "first",
    "to be replaced": "first",
    "false": "soon",
    "dull": "when money allows",
    "spare": "with the order",
}
_PUT_ON = ("missing", "to be replaced")
"""Reasons for which a string is put on now."""
_PLAIN = ("gut", "nylon", "carbon")
_DEFAULTS = PlanSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchase:
    """One string to order."""

    string: str
    harp_name: str
    """`5C, fifth-octave C`."""
    reason: Reason
    urgency: Urgency
    confidence: float
    """Probability, 0 to 1, that the reason holds; 1 where a person said so of this string."""
    price: float | None
    """From the owner's list; None where it is not on it."""
    running_total: float | None
    """Of this and all above that the budget reaches; None for what it does not reach and where no price is known."""
    material: str
    gauge_mm: float | None
    """Measured; None: measure the old string."""
    stringing: str
    remark: str
    """What it gains, or what keeping the old one costs."""


def what_to_buy(
    survey: Survey,
    answers: Answers,
    prices: Prices | None = None,
    budget: float | None = None,
    settings: PlanSettings = _DEFAULTS,
) -> tuple[Purchase, ...]:
    """The list, most urgent first."""
    needed = sorted(_needed(survey, answers, prices), key=_rank)
    needed = _in_sets(needed, survey.layout, prices, settings)
    return tuple(_totalled([*needed, *_spares(needed, settings)], budget))


def stringing(layout: Layout) -> str:
    """The kind of stringing, as string sellers sort them: strings of one kind do not fit a harp of another."""
    if layout.kind == "pedal":
        return "concert"
    if layout.name.endswith("-heavy") or any(s.material == "gut" for s in layout.strings):
        return "lever gut"
    return "light"


def string_names(string: str) -> str:
    """`5C, fifth-octave C`: the harp's own name, short and in words."""
    short = harp_octave(string)
    ordinals = ("top", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")
    number = int(short[:-1])
    return f"{short}, {ordinals[number] if number < len(ordinals) else f'{number}th'}-octave {short[-1]}"


def _needed(survey: Survey, answers: Answers, prices: Prices | None) -> list[Purchase]:
    gone = absent(survey, answers)
    found: list[Purchase] = []
    for row, string in zip(survey.strings, survey.layout.strings, strict=True):
        if row.string in answers.fitted:
            continue
        reason, confidence = _reason(row, survey, gone, answers)
        if reason is None:
            continue
        line = prices.line_for(string, stringing(survey.layout)) if prices else None
        found.append(
            Purchase(
                string=row.string,
                harp_name=string_names(row.string),
                reason=reason,
                urgency=_URGENCY[reason],
                confidence=confidence,
                price=line.price if line else None,
                running_total=None,
                material=string.material,
                gauge_mm=_gauge_mm(string, survey.layout),
                stringing=stringing(survey.layout),
                remark=_remark(row, reason, line, prices),
            )
        )
    return found


def _reason(row: StringRow, survey: Survey, gone: Sequence[str], answers: Answers) -> tuple[Reason | None, float]:
    """Why it is to be bought, and how sure that is: of "all" confirmed at once, as sure as the reading."""
    if row.string in answers.replaced:
        return "to be replaced", 1.0
    if row.string in gone:
        looked_at = row.string in answers.confirmed or said_missing(row, survey)
        return "missing", 1.0 if looked_at else absence(row, survey)
    if row.verdict == "false" and row.false_probability is not None:
        return "false", row.false_probability
    if row.verdict == "dull" and row.dull_probability is not None:
        return "dull", row.dull_probability
    return None, 0.0


def _gauge_mm(string: LayoutString, layout: Layout) -> float | None:
    return string.diameter_mm if layout.basis == "measured" else None


def _remark(row: StringRow, reason: Reason, line: PriceLine | None, prices: Prices | None) -> str:
    """What it gains, or what keeping the old one costs."""
    texts = {
        "missing": "A hole in every piece that needs it, and its load is missing from the harp's.",
        "to be replaced": "To be taken off, as said after looking.",
        "false": "Kept, it cannot be put in tune: its octaves and unisons beat however it is set.",
        "dull": _dull_cost(row),
        "spare": "",
    }
    return texts[reason] + (" It is not on your price list." if prices and line is None else "")


def _dull_cost(row: StringRow) -> str:
    if row.decay_s is None or not row.expected_decay_s or row.decay_s >= row.expected_decay_s:
        return "Kept, it costs brightness and length of sound, nothing else."
    return (
        f"Kept, it costs length of sound, nothing else: it rings {words.number(row.decay_s, 1)} s where its neighbours"
        f" lead one to expect {words.number(row.expected_decay_s, 1)} s."
    )


def _in_sets(needed: list[Purchase], layout: Layout, prices: Prices | None, settings: PlanSettings) -> list[Purchase]:
    """Bass wires as a set, where several are needed and the price list has one: the first carries its price.

    `needed` is sorted, and stays so: the set stands where the most urgent of its wires does.
    """
    wires = [p for p in needed if p.material == "wire"]
    if prices is None or prices.wire_set is None or not wires:
        return needed
    singles = [p.price for p in wires]
    cheaper = None not in singles and prices.wire_set <= sum(p for p in singles if p is not None)
    if len(wires) < settings.set_wires_n and not cheaper:
        return needed
    all_wires = [s.string for s in layout.strings if s.material == "wire"]
    first, *others = wires
    note = f"Order the bass wires {all_wires[0]} to {all_wires[-1]} as one set; this price is the set's."
    as_set = [replace(first, price=prices.wire_set, remark=f"{first.remark} {note}")]
    as_set += [
        replace(
            p, price=0.0, urgency=first.urgency, remark=f"{p.remark} In the set of bass wires, with {first.string}."
        )
        for p in others
    ]
    place = needed.index(first)
    return [*needed[:place], *as_set, *(p for p in needed[place:] if p not in wires)]


def _rank(p: Purchase) -> tuple[int, float, str]:
    """Urgency first; then sureness for the money; a string without a price counts as the dearest."""
    order = list(_URGENCY.values()).index(p.urgency)
    worth = 0.0 if p.price is None else p.confidence / (p.price or 0.01)
    return order, -worth if p.price is not None else -p.confidence * 1e-6, p.string


def _spares(needed: Sequence[Purchase], settings: PlanSettings) -> list[Purchase]:
    """One more of each thin plain string that is to be put on now: new ones break while they are brought up."""
    return [
        replace(p, reason="spare", urgency="with the order", remark="A new string may break while it is brought up.")
        for p in needed
        if p.reason in _PUT_ON and p.material in _PLAIN and int(p.harp_name.split(",")[0][:-1]) <= settings.spare_octave
    ]


def _totalled(rows: Sequence[Purchase], budget: float | None) -> list[Purchase]:
    """The rows with their running total; what the budget does not reach goes to the end."""
    total = 0.0
    within: list[Purchase] = []
    beyond: list[Purchase] = []
    for p in rows:
        if p.price is None:
            within.append(p)
        elif budget is not None and (round(total + p.price, 2) > budget or _set_is_beyond(p, beyond)):
            beyond.append(replace(p, urgency="later: over the budget"))
        elif p.reason == "spare" and any(b.reason in _PUT_ON for b in beyond):
            waits = f"{p.remark} It waits until the budget reaches all strings that are to be put on."
            beyond.append(replace(p, urgency="later: over the budget", remark=waits))
        else:
            total = round(total + p.price, 2)
            within.append(replace(p, running_total=total))
    return [*within, *beyond]


def _set_is_beyond(p: Purchase, beyond: Sequence[Purchase]) -> bool:
    """Whether this wire comes with a set that the budget does not reach."""
    return p.price == 0.0 and p.material == "wire" and any(b.material == "wire" for b in beyond)
