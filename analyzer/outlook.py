"""What lies ahead of a surveyed harp: may it be played, what it carries, the plan as far as one may be made, and what
to buy.

Task: a Survey and the answers that were kept with it -> an Outlook, which the report shows. Composition only: the
figures are those of `paying`, `load`, `plan` and `purchases`.

Conventions: where a question is open there is no plan, only what has to be answered; where the recording can be read in
another way there is no verdict and nothing to buy, because the figures may be those of other strings.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime

from analyzer import questions
from analyzer.answers import Answers, Kept, fingerprint
from analyzer.load import HarpLoad, harp_load
from analyzer.paying import Paying, Rates, for_payer
from analyzer.plan import Plan, Preview, make_plan, preview
from analyzer.purchases import Purchase, what_to_buy
from analyzer.settings import OutlookSettings, PayingSettings, PlanSettings
from analyzer.speech import PLAIN, speaking
from analyzer.survey import Survey
from analyzer.worklist import strings_to_look_at

_DEFAULTS = OutlookSettings()
_PAYING = PayingSettings()
_PLAN = PlanSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """What the report says of the days to come."""

    paying: Paying | None
    """None where it cannot be said honestly."""
    unsaid: tuple[str, ...]
    """Why it cannot."""
    answers: Answers
    """What was kept with the survey; none where it reads otherwise now."""
    to_answer: tuple[questions.Question, ...]
    """What is open; then there is no plan."""
    preview: Preview
    plan: Plan | None
    load: HarpLoad
    purchases: tuple[Purchase, ...]
    look_first: tuple[str, ...]
    """Strings not heard that nobody has looked at: not among the purchases."""


def settled(survey: Survey, kept: Kept | None) -> Survey:
    """The survey as a page shows it: doubts that the kept answers settle are remarks."""
    if kept is None or kept.fingerprint != fingerprint(survey):
        return survey
    left = questions.open_doubts(survey, kept.answers)
    gone = [f"Settled by what was said to the plan: {d.sentence}" for d in survey.doubts if d not in left]
    return replace(survey, doubts=left, remarks=(*survey.remarks, *gone))


def look_ahead(
    survey: Survey,
    kept: Kept | None = None,
    *,
    settings: OutlookSettings = _DEFAULTS,
    paying: PayingSettings = _PAYING,
    planning: PlanSettings = _PLAN,
) -> Outlook:
    """The outlook of a survey, with what was kept with it; its sentences are English, as the stages' are."""
    with speaking(PLAIN):
        return _look_ahead(survey, kept, settings, paying, planning)


def _look_ahead(
    survey: Survey, kept: Kept | None, settings: OutlookSettings, paying: PayingSettings, planning: PlanSettings
) -> Outlook:
    own = kept if kept and kept.fingerprint == fingerprint(survey) else None
    answers = own.answers if own else Answers()
    to_answer = questions.open_questions(survey, answers, planning)
    doubted = any(question.code == "doubts" for question in to_answer)
    plan = None
    if not to_answer and not questions.contradiction(survey, answers):
        response = own.response if own else None
        plan = make_plan(survey, answers, start=_day(survey, answers), response=response, settings=planning)
    unsaid = _unsaid(survey, to_answer, settings)
    return Outlook(
        paying=None if unsaid else _verdict(survey, answers, paying),
        unsaid=unsaid,
        answers=answers,
        to_answer=to_answer,
        preview=preview(survey, planning),
        plan=plan,
        load=harp_load(survey.layout, survey.tuning.targets, {r.string: r.cents for r in survey.strings}),
        purchases=() if doubted else what_to_buy(survey, answers, settings=planning),
        look_first=strings_to_look_at(survey, answers),
    )


def _unsaid(survey: Survey, to_answer: Sequence[questions.Question], settings: OutlookSettings) -> tuple[str, ...]:
    """Why nobody can say yet whether the harp may be played; empty where one can."""
    sure_n = sum(row.status == "heard" and row.cents is not None for row in survey.strings)
    why = []
    open_codes = {question.code for question in to_answer}
    if "doubts" in open_codes:
        why.append("The recording can be read in another way too.")
    if survey.tuning.settled_by == "default" and open_codes & {"levers", "pedals", "tuning"}:
        why.append("Nobody said what the harp is tuned to.")
    if sure_n < settings.least_sure_share * len(survey.strings):
        why.append(f"Only {sure_n} of {len(survey.strings)} strings were measured for sure.")
    return tuple(why)


def _verdict(survey: Survey, answers: Answers, settings: PayingSettings) -> Paying:
    """What sound says, overruled by what was seen."""
    found = answers.inspected
    good = found is not None and questions.inspection_good(found)
    heard = for_payer(survey, Rates(), settings, looked_over=good or bool(answers.advised_by))
    if found is None or good:
        return heard
    return replace(heard, playable="do not play", why=(f"Seen on the harp: {found}.", *heard.why))


def _day(survey: Survey, answers: Answers) -> date:
    """The day that the survey was made on, or that the last string was fitted on; passes do not depend on it."""
    try:
        made = datetime.fromisoformat(survey.made_at).date()
    except ValueError:
        made = datetime.fromtimestamp(0, UTC).date()
    return max([made, *map(date.fromisoformat, answers.fitted.values())])
