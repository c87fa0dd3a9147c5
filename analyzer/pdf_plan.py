"""What lies ahead of the harp, on paper: the plan as far as one may be made, the load, and what to buy."""

from collections.abc import Iterable
from typing import Any

from analyzer import paying_words, plan_words, words
from analyzer.notes import harp_octave
from analyzer.outlook import Outlook
from analyzer.pdf_blocks import Block, heading, items_list, table, text_block, told, told_each
from analyzer.plan import Plan
from analyzer.purchases import Purchase
from analyzer.questions import LOOK_AT
from analyzer.report import doubted, foreseen
from analyzer.sentences import by_notes
from analyzer.speech import Spoken, say
from analyzer.survey import Survey
from analyzer.words import number, percent
from analyzer.worklist import PlanRow


def next_blocks(survey: Survey, outlook: Outlook, w: Any) -> Iterable[Block]:
    """The plan as far as one may be made, the load, and what to buy."""
    yield heading(w.NEXT)
    if outlook.plan is not None:
        yield from _plan(outlook.plan, w)
    else:
        looks = items_list(f"☐ {told(text)}" for text in LOOK_AT)
        questions = (told(by_notes(survey, question.short)) for question in outlook.to_answer)
        yield {
            "kind": "alert",
            "blocks": [
                heading(w.NO_PLAN, 2),
                text_block(w.NO_PLAN_WHY),
                items_list(text[:1].upper() + text[1:] for text in questions),
                heading(say(plan_words.LOOK), 2),
                looks,
            ],
        }
        yield text_block(w.NEXT_TEXT)
    t = Spoken(plan_words)
    yield heading(t.LOAD, 2)
    if outlook.plan is None:
        for sentence in foreseen(outlook):
            yield text_block(told(by_notes(survey, sentence)))
    sums = [outlook.load.whole, *outlook.load.octaves]
    yield table(
        t.LOAD_CAPTION,
        (t.PART, t.NOW, t.AT_PITCH, t.SHARE),
        "lrrr",
        (plan_words.load_line(one) for one in sums),
        0,
    )
    if outlook.paying is not None:
        yield heading(say(paying_words.WORK), 2)
        yield text_block(paying_words.work(outlook.paying))
        for line in paying_words.basis(outlook.paying):
            yield text_block(line, soft=True)
    yield heading(t.BUY, 2)
    if outlook.purchases:
        keys = ("string", "harp_name", "reason", "urgency", "confidence", "material", "gauge", "stringing")
        heads = [t.BUY_HEADS[key] for key in keys]
        lines = (line for one in outlook.purchases for line in _purchase_lines(one, t))
        yield table(t.BUY_CAPTION, heads, "llllrlrl", lines, 1)
    elif doubted(outlook):
        yield text_block(w.BUY_IF_DOUBTED)
    elif not outlook.look_first:
        yield text_block(t.NOTHING_TO_BUY)
    if outlook.look_first and not doubted(outlook):
        yield text_block(w.BUY_AFTER_LOOK.format(names=by_notes(survey, words.listed(list(outlook.look_first), 12))))


def _plan(plan: Plan, w: Any) -> Iterable[Block]:
    t = Spoken(plan_words)
    yield text_block(f"{plan_words.inspected(plan.answers)} {w.PLAN_MADE}")
    for sentence in plan_words.summary(plan):
        yield text_block(sentence)
    heads = (t.ORDER, t.STRING, t.HARP_NAME, t.FROM, t.TO, t.HERTZ, t.END, t.MOST)
    for n, one in enumerate(plan.passes, start=1):
        if n == plan.checkpoint_n + 1:
            yield heading(w.PLAN_LATER, 2)
            yield text_block(t.LATER_WHY)
        yield heading((t.PASS if n <= plan.checkpoint_n else t.LATER_PASS).format(n), 2)
        yield table(t.LATER_CAPTION, heads, "rllrrrrr", (line for row in one for line in _turn_lines(row)), 2)
        yield text_block(told_each(plan_words.after(plan, n)))


def _turn_lines(row: PlanRow) -> Iterable[Any]:
    """A turn's line of its pass, and one below for what to mind."""
    yield [
        str(row.order),
        words.note(row.note),
        harp_octave(row.string),
        "" if row.from_cents is None else number(row.from_cents, 0),
        number(row.to_cents, 0),
        number(row.to_hz, 2),
        "" if row.end_cents is None else number(row.end_cents, 0),
        "" if row.most_cents is None else number(row.most_cents, 0),
    ]
    if row.remark:
        yield {"remark": told_each(row.remark)}


def _purchase_lines(one: Purchase, t: Any) -> Iterable[Any]:
    yield [
        one.string,
        told(one.harp_name),
        t.REASONS.get(one.reason, one.reason),
        t.URGENCIES.get(one.urgency, one.urgency),
        percent(one.confidence),
        t.MATERIALS.get(one.material, one.material),
        t.MEASURE if one.gauge_mm is None else number(one.gauge_mm, 2),
        t.STRINGINGS.get(one.stringing, one.stringing),
    ]
    if one.remark:
        yield {"remark": told_each(one.remark)}
