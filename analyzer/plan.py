"""The plan: from a survey and what the person answered to a work order: load, passes, purchases, next visits.

Task: `make_plan` composes it, `preview` says in a few sentences what a plan would look like before the questions
are answered. No plan is made while a question is open (`answers`); the caller asks first.

Conventions: cents against the string's target; newtons where the layout lets them be known, else the plan works
with shares of tension alone, every string counting the same.

Limits of each string in one pass: tighter for a gentle plan, for wire, and for strings near breaking. All limits
are judgement, on the careful side: none is published for harps.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from analyzer import questions as asking
from analyzer.answers import Answers, Kept
from analyzer.errors import UnusableInput
from analyzer.load import HarpLoad, harp_load
from analyzer.pass_limits import Standing, Turn, passes_bound
from analyzer.passes import schedule
from analyzer.prices import Prices
from analyzer.purchases import Purchase, what_to_buy
from analyzer.response import Followed, Response, measure, strings_to_leave, work_done
from analyzer.settings import LoadSettings, PlanSettings
from analyzer.survey import StringRow, Survey
from analyzer.version import VERSION
from analyzer.visits import Visit, visits
from analyzer.worklist import WIRES, PlanRow, an_octave_low, stragglers, strings_to_look_at, work_rows

SCHEMA = 1

_DEFAULTS = PlanSettings()
_LOAD_DEFAULTS = LoadSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What one pass may do."""

    turn_cents: float
    turn_share: float
    total_share: float
    """Load added to the harp, share of its full load."""
    apart_cents: float
    gentle: bool
    tighter: tuple[str, ...]
    """Strings with tighter limits of their own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The work order."""

    schema: int
    program_version: str
    title: str
    start: date
    survey_date: str
    setting: str
    """What the harp is tuned to, in words."""
    a4_hz: float
    layout_title: str
    layout_basis: str
    answers: Answers
    limits: Limits
    passes: tuple[tuple[PlanRow, ...], ...]
    bound_n: int
    """Fewest passes that the limits allow on a harp that does not give way."""
    checkpoint_n: int
    """Passes to do before looking and recording again."""
    turns: tuple[tuple[Turn, ...], ...]
    measuring: tuple[str, ...]
    """Strings that the first pass leaves as they fall: they measure how the harp gives way."""
    stragglers: tuple[str, ...]
    """Strings for which alone the last passes are …"""
    stragglers_from: int | None
    """… from this pass on."""
    load: HarpLoad
    response: Response | None
    """How this harp gives way; None until measured."""
    look_first: tuple[str, ...]
    """Strings not heard that nobody has looked at."""
    octave_low: tuple[str, ...]
    near_breaking: tuple[str, ...]
    purchases: tuple[Purchase, ...]
    budget: float | None
    priced: bool
    visits: tuple[Visit, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """What a plan would look like, were the questions answered."""

    passes_n: int | None
    """None where the survey lets nothing be said."""
    most_up_n: int | None
    """Those after which only a few strings are still raised; `passes_n` where none lag behind."""
    turns_n: int | None
    """Turns of pins in them, without what is set right at the end of each."""
    days_n: int | None
    """From the first pass to the last."""
    load_share: float
    """The harp's load now over its full load."""
    to_answer: tuple[str, ...]
    """Each open question in a few words."""
    sentences: tuple[str, ...]


def make_plan(
    survey: Survey,
    answers: Answers,
    *,
    start: date,
    prices: Prices | None = None,
    budget: float | None = None,
    response: Response | None = None,
    settings: PlanSettings = _DEFAULTS,
    load_settings: LoadSettings = _LOAD_DEFAULTS,
) -> Plan:
    """The whole plan. Raises UnusableInput with every open question, or where the answers contradict the survey."""
    if words := asking.contradiction(survey, answers):
        raise UnusableInput(words)
    if questions := asking.open_questions(survey, answers, settings):
        raise asking.refuse(questions)
    for string, day in answers.fitted.items():
        if date.fromisoformat(day) > start:
            raise UnusableInput(
                f"--fitted {string}={day} is after the first pass on {start}: give the day on which it was put on,"
                " or leave it out while it is still to be fitted."
            )
    load = harp_load(survey.layout, survey.tuning.targets, {r.string: r.cents for r in survey.strings}, load_settings)
    gentle = is_gentle(answers)
    strings = standings(survey, answers, load, settings)
    total = settings.total_share * (settings.gentle_factor if gentle else 1.0)
    turns = schedule(
        strings,
        total_share=total,
        response_cents=response.cents if response else 0.0,
        settling_cents=max(response.settling_cents, 0.0) if response else 0.0,
        settings=settings,
    )
    bound_n = passes_bound(strings, total_share=total, settings=settings)
    widest = max(s.turn_cents for s in strings)
    checkpoint = settings.checkpoint_passes if response else settings.first_checkpoint_passes
    checkpoint_n = min(checkpoint, len(turns))
    late = stragglers(turns, settings)
    left = () if response else strings_to_leave(turns, strings, bound_n, total, settings)
    new = _new_strings(survey, answers, start, settings)
    return Plan(
        schema=SCHEMA,
        program_version=VERSION,
        title=survey.title,
        start=start,
        survey_date=survey.date,
        setting=survey.tuning.setting,
        a4_hz=survey.tuning.a4_hz,
        layout_title=survey.layout.title,
        layout_basis=survey.layout.basis,
        answers=answers,
        limits=Limits(
            turn_cents=widest,
            turn_share=max(s.turn_share for s in strings),
            total_share=total,
            apart_cents=settings.apart_cents,
            gentle=gentle,
            tighter=tuple(s.string for s in strings if s.turn_cents < widest),
        ),
        passes=work_rows(turns, strings, survey, answers, load, left, settings),
        bound_n=bound_n,
        checkpoint_n=checkpoint_n,
        turns=turns,
        measuring=tuple(strings[i].string for i in left),
        stragglers=tuple(survey.strings[i].string for i in late[1]) if late else (),
        stragglers_from=late[0] if late else None,
        load=load,
        response=response,
        look_first=strings_to_look_at(survey, answers),
        octave_low=tuple(r.string for r in survey.strings if an_octave_low(r, settings)),
        near_breaking=tuple(r.string for r in load.strings if r.near_breaking),
        purchases=what_to_buy(survey, answers, prices, budget, settings),
        budget=budget,
        priced=prices is not None,
        visits=visits(
            start,
            passes_n=len(turns),
            checkpoint_n=checkpoint_n,
            gentle=gentle,
            new_strings=new,
            slack=any((s.cents or 0.0) < -settings.slack_raise_cents for s in strings),
            cents_per_day=response.cents_per_day if response else None,
            settings=settings,
        ),
    )


def preview(
    survey: Survey, settings: PlanSettings = _DEFAULTS, load_settings: LoadSettings = _LOAD_DEFAULTS
) -> Preview:
    """What a plan would be with the ordinary limits, taking every reading for right and every string not heard for
    missing; and what has to be answered first."""
    load = harp_load(survey.layout, survey.tuning.targets, {r.string: r.cents for r in survey.strings}, load_settings)
    to_answer = tuple(q.short for q in asking.open_questions(survey, Answers(), settings))
    try:
        turns = schedule(
            standings(survey, Answers(), load, settings), total_share=settings.total_share, settings=settings
        )
    except UnusableInput as e:
        return Preview(
            passes_n=None,
            most_up_n=None,
            turns_n=None,
            days_n=None,
            load_share=load.whole.share,
            to_answer=to_answer,
            sentences=(f"{e}".capitalize(),),
        )
    days_n = 1 + (len(turns) - 1) * settings.rest_days if turns else 0
    late = stragglers(turns, settings)
    return Preview(
        passes_n=len(turns),
        most_up_n=late[0] - 1 if late else len(turns),
        turns_n=sum(t.kind != "keep" for one in turns for t in one),
        days_n=days_n,
        load_share=load.whole.share,
        to_answer=to_answer,
        sentences=tuple(_preview_sentences(survey, load, turns, days_n, to_answer, settings)),
    )


def _preview_sentences(
    survey: Survey,
    load: HarpLoad,
    turns: Sequence[Sequence[Turn]],
    days_n: int,
    to_answer: Sequence[str],
    settings: PlanSettings,
) -> list[str]:
    whole, passes_n, late = load.whole, len(turns), stragglers(turns, settings)
    carried = f"The harp carries about {whole.share:.0%} of the load it has at pitch"
    if whole.tension_n is not None and whole.full_tension_n is not None:
        carried += (
            f" ({whole.tension_n / 1000:.1f} of {whole.full_tension_n / 1000:.1f} kN, the sum of the string tensions;"
            f" lengths and gauges: {survey.layout.basis})"
        )
    lines = [f"{carried}."]
    if not passes_n:
        lines.append("It is in tune: there is nothing to raise.")
        return lines
    lines.append(
        f"To bring it up would take {passes_n} {'pass' if passes_n == 1 else 'passes'} over at least"
        f" {days_n} {'day' if days_n == 1 else 'days'}, all strings together, and a last touch as they fall again;"
        " an old or weak harp takes about twice as many."
    )
    if late:
        names = ", ".join(survey.strings[i].string for i in late[1])
        lines.append(f"From pass {late[0]} on only {names} would still be raised; the rest of the harp is up by then.")
    lines.append("harp-survey plan makes that plan, once this is answered: " + "; ".join(to_answer) + ".")
    return lines


def is_gentle(answers: Answers) -> bool:
    """Gentle limits: as asked for, and wherever a technician's advice was needed."""
    if answers.gentle is not None:
        return answers.gentle
    finding = answers.inspected is not None and not asking.inspection_good(answers.inspected)
    return finding or bool(answers.historical)


def standings(
    survey: Survey, answers: Answers, load: HarpLoad, settings: PlanSettings = _DEFAULTS
) -> tuple[Standing, ...]:
    """Where each string stands, and its limits."""
    full_n = load.whole.full_tension_n
    rows = []
    for row, string, carried in zip(survey.strings, survey.layout.strings, load.strings, strict=True):
        factor = settings.gentle_factor if is_gentle(answers) else 1.0
        if string.material in WIRES:
            factor *= settings.wire_factor
        if carried.near_breaking:
            factor *= settings.near_breaking_factor
        known = full_n is not None and carried.full_tension_n is not None
        rows.append(
            Standing(
                string=row.string,
                cents=None if _not_measured(row, survey, answers) else row.cents,
                weight=(carried.full_tension_n or 0.0) / (full_n or 1.0) if known else 1 / len(survey.strings),
                turn_cents=settings.turn_cents * factor,
                turn_share=settings.turn_share * factor,
            )
        )
    return tuple(rows)


def _not_measured(row: StringRow, survey: Survey, answers: Answers) -> bool:
    """Whether the survey does not show where the string stands that is on the harp now, or will be."""
    if row.string in answers.replaced or row.status == "not heard":
        return True
    fitted = answers.fitted.get(row.string)
    return fitted is not None and (_days(survey.date, fitted) or 0) > 0  # what was heard is the old one


def response_of(
    surveys: Sequence[Survey],
    kept: Sequence[Kept],
    done: Sequence[int],
    settings: PlanSettings = _DEFAULTS,
    load_settings: LoadSettings = _LOAD_DEFAULTS,
) -> Response | None:
    """How the harp gave way between consecutive surveys: `kept[i]` is the plan made on `surveys[i]`, of which
    `done[i]` passes were done before `surveys[i + 1]`."""
    work = []
    for before, after, plan, passes_n in zip(surveys, surveys[1:], kept, done, strict=False):
        load = harp_load(
            before.layout, before.tuning.targets, {r.string: r.cents for r in before.strings}, load_settings
        )
        surely = {r.string: r.cents for r in after.strings if not asking.in_doubt(r, settings)}
        left = [i for i, r in enumerate(before.strings) if r.string in plan.measuring]
        turns, set_right = work_done(plan.turns, passes_n, left, len(before.strings), settings)
        work.append(
            Followed(
                strings=standings(before, plan.answers, load, settings),
                turns=turns,
                set_right=set_right,
                now_cents=tuple(surely.get(r.string) for r in before.strings),
                days=_days(before.date, after.date),
            )
        )
    return measure(work, settings)


def _days(before: str, after: str) -> int | None:
    """Days between two dates as the person gave them, None where they do not say."""
    try:
        days = (date.fromisoformat(after[:10]) - date.fromisoformat(before[:10])).days
    except ValueError:
        return None
    return days if days > 0 else None


def _new_strings(survey: Survey, answers: Answers, start: date, settings: PlanSettings) -> tuple[str, ...]:
    """Strings that will go on stretching: to be fitted, or fitted lately."""
    lately = {
        string
        for string, day in answers.fitted.items()
        if (start - date.fromisoformat(day)).days <= settings.new_string_days
    }
    unseen = strings_to_look_at(survey, answers)  # perhaps there, and only skipped
    return tuple(
        r.string
        for r in survey.strings
        if (r.status == "not heard" and r.string not in unseen) or r.string in answers.replaced or r.string in lately
    )
