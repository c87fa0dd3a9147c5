"""`harp-survey plan`: from a survey to a work order: passes, load, purchases, next visits."""

import argparse
import sys
from typing import TYPE_CHECKING

from analyzer.cli import manner

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date, datetime
    from pathlib import Path

    from analyzer.answers import Answers, Kept
    from analyzer.errors import UnusableInput
    from analyzer.plan import Plan
    from analyzer.questions import Question
    from analyzer.response import Response
    from analyzer.survey import Survey

ABOUT = """Makes a careful plan to bring a surveyed harp to pitch: which string to turn how far, pass by pass; what to
buy; when to come back. It first needs what only you can say: the setting at the recording, an inspection by eye, and a
look at every string in doubt. It asks, or takes the options below. The answers are kept with the survey; where some
are still open, those given at the keyboard."""


class _YesOrNo(argparse.BooleanOptionalAction):
    """`--gentle` or `--no-gentle`, not both."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: object,
        option_string: str | None = None,
    ) -> None:
        before = getattr(namespace, self.dest)
        super().__call__(parser, namespace, None, option_string)
        if before is not None and before != getattr(namespace, self.dest):
            yes, no = self.option_strings
            parser.error(f"{yes} and {no} contradict each other; keep one.")


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The words of this command."""
    words = commands.add_parser("plan", help="plan passes, purchases and visits from a survey", description=ABOUT)
    words.add_argument("survey", nargs="?", metavar="SURVEY_FOLDER", help="the folder that analyze wrote")
    words.add_argument(
        "--out", required=True, type=manner.folder, metavar="DIR", help="folder for plan.csv, plan.html, load.csv, …"
    )
    words.add_argument("--inspected", metavar="WORDS", help="good (gut), or what you found, in words")
    words.add_argument("--levers", metavar="SET", help="at the recording: off, on, or the strings whose levers were on")
    words.add_argument("--pedals", metavar="SET", help="at the recording: flat, natural, sharp, or all seven")
    words.add_argument("--tuning", metavar="KEY", help="what the open strings are tuned to, if not said to analyze")
    words.add_argument("--confirm", metavar="STRING,…|all", help="strings in doubt that you looked at by hand")
    words.add_argument("--replace", metavar="STRING,…", help="strings to be taken off and replaced")
    words.add_argument("--fitted", action="append", default=[], metavar="STRING=DATE", help="put on new on that day")
    words.add_argument("--gentle", action=_YesOrNo, default=None, help="half the limits: an old or weak harp")
    words.add_argument(
        "--historical",
        action=_YesOrNo,
        default=None,
        help="a historical harp: not without advice",
    )
    words.add_argument("--advised-by", default="", metavar="NAME", help="the harp technician who agreed to raise it")
    words.add_argument("--answers", metavar="FILE", help="these answers from a JSON file")
    words.add_argument("--prices", metavar="FILE.csv", help="your own price list: string,price")
    words.add_argument("--budget", metavar="AMOUNT", help="what may be spent, in the price list's money")
    words.add_argument(
        "--from", dest="earlier", nargs="+", default=[], metavar="SURVEY", help="earlier surveys, oldest first"
    )
    words.add_argument(
        "--done", type=int, metavar="N", help="passes of the last plan that were done (else: up to its stop)"
    )
    words.add_argument("--date", metavar="DAY", help="day of the first pass (today)")
    manner.add(words)
    words.set_defaults(run=run)


def run(words: argparse.Namespace) -> int:
    """Ask what is open, plan, write everything or nothing."""
    from pathlib import Path

    from analyzer import answers as asking
    from analyzer.cli import keeping
    from analyzer.merging import check_whole
    from analyzer.plan import make_plan
    from analyzer.prices import amount, read_prices
    from analyzer.questions import needs_advice
    from analyzer.signing import check_unsigned_among
    from analyzer.speech import say
    from analyzer.survey import read_survey
    from analyzer.writing import write_files

    folders = _folders(words)
    surveys = [read_survey(folder) for folder in folders]
    for folder, one in zip(folders, surveys, strict=True):
        check_whole(one, str(folder))
    survey = surveys[-1]
    now, start = _now_and_start(words)
    budget = None if words.budget is None else amount(words.budget, "--budget")
    prices = read_prices(Path(words.prices), survey.layout) if words.prices else None
    said = _said(words, survey)
    kept = asking.read_kept(_home(folders[-1]))
    if kept and kept.fingerprint == asking.fingerprint(survey):
        said = asking.joined(kept.answers, said)
    elif kept:
        with manner.spoken(words):
            changed = say("The survey reads otherwise than when these questions were answered: answer them again.")
            sys.stderr.write(f"{changed}\n")
    with manner.spoken(words):
        said, refusal, answered = _asked(survey, said)
        if refusal is not None:
            if needs_advice(said):
                keeping.withdraw(words.out, _home(folders[-1]), survey, said, kept, now, all_said=answered)
            elif answered and said != asking.Answers():
                keeping.keep_answers(_home(folders[-1]), survey, said, kept)
            raise refusal
    plan = make_plan(
        survey, said, start=start, prices=prices, budget=budget, response=_response(words, folders, surveys)
    )
    keep = asking.Kept(
        schema=asking.KEPT_SCHEMA,
        fingerprint=asking.fingerprint(survey),
        answers=said,
        turns=plan.turns,
        checkpoint_passes=plan.checkpoint_n,
        measuring=plan.measuring,
        response=plan.response,
    )
    with manner.spoken(words):
        files = _files(plan, now)
        check_unsigned_among(words.out, files)
        write_files(words.out, files)
        keeping.keep(_home(folders[-1]), keep)
        _tell(plan, words.out)
    return 0


def _folders(words: argparse.Namespace) -> "list[Path]":
    """The surveys, oldest first, the one to plan from last."""
    from pathlib import Path

    from analyzer.errors import UnusableInput

    earlier = [Path(p) for p in words.earlier]
    if words.survey is not None:
        last = Path(words.survey)
        earlier = [p for p in earlier if p.resolve() != last.resolve()]
        folders = [*earlier, last]
    else:
        folders = earlier
    if not folders:
        raise UnusableInput("name the survey to plan from: harp-survey plan SURVEY_FOLDER --out DIR.")
    if words.survey is None and len(folders) < 2:
        raise UnusableInput("--from needs the earlier survey and the later one: --from EARLIER LATER.")
    return folders


def _home(path: "Path") -> "Path":
    """The folder of a survey that was named by its folder or its file."""
    return path if path.is_dir() else path.parent


def _now_and_start(words: argparse.Namespace) -> "tuple[datetime, date]":
    """The time to put into files and the day of the first pass."""
    from datetime import date, datetime

    from analyzer.cli import moment
    from analyzer.spreadsheet import day

    now = datetime.fromisoformat(moment.now())
    return now, date.fromisoformat(day(words.date)) if words.date else now.date()


def _said(words: argparse.Namespace, survey: "Survey") -> "Answers":
    """What the words of the command answer."""
    from pathlib import Path

    from analyzer import answers as asking
    from analyzer.errors import UnusableInput

    if words.budget is not None and not words.prices:
        raise UnusableInput("--budget needs a price list to be counted against: give --prices FILE.csv too.")
    fitted = {}
    for item in (part for text in words.fitted for part in text.split(",")):
        string, equals, day = item.partition("=")
        if not equals:
            raise UnusableInput(f"--fitted {item!r}: write string and day, as in C4=2026-03-02.")
        fitted[string.strip()] = day
    confirm = _names(words.confirm)
    given = asking.Answers(
        inspected=words.inspected,
        levers=words.levers,
        pedals=words.pedals,
        key=words.tuning,
        confirmed=tuple(c for c in confirm if c.lower() != "all"),
        confirm_all="all" in (c.lower() for c in confirm),
        replaced=_names(words.replace),
        fitted=fitted,
        gentle=words.gentle,
        historical=words.historical,
        advised_by=words.advised_by.strip(),
    )
    given = asking.checked(given, survey)
    if words.answers is None:
        return given
    return asking.joined(asking.checked(asking.read_answers(Path(words.answers)), survey), given)


def _names(text: str | None) -> tuple[str, ...]:
    return tuple(part.strip() for part in (text or "").split(",") if part.strip())


def _asked(survey: "Survey", said: "Answers") -> "tuple[Answers, UnusableInput | None, bool]":
    """The answers with those of a person at the keyboard, what stops the plan, and whether a person gave them and they
    fit the survey, to be kept though it is stopped; a script is never asked."""
    from analyzer import questions as asking
    from analyzer.answers import checked, joined
    from analyzer.errors import UnusableInput
    from analyzer.restating import restated_each

    keyboard, fits = sys.stdin.isatty(), False
    try:
        while True:
            if words := asking.contradiction(survey, said):
                raise UnusableInput(words)
            fits = keyboard
            questions = asking.open_questions(survey, said)
            question = questions[0] if questions else None
            if question is None or not question.ask or not keyboard:
                break
            sys.stderr.write(f"\n{' '.join(one.text for one in restated_each(question.ask))}\n> ")
            sys.stderr.flush()
            reply = sys.stdin.readline().strip()
            if not reply or reply.lower() == "none":
                break
            answer = checked(_answer(question, reply), survey)
            said, fits = joined(said, answer), False
    except UnusableInput as e:
        return said, e, fits
    return said, asking.refuse(questions) if questions else None, fits


def _answer(question: "Question", reply: str) -> "Answers":
    """One reply as answers."""
    from analyzer.answers import Answers
    from analyzer.questions import inspection_good

    match question.code:
        case "levers":
            return Answers(levers=reply)
        case "pedals":
            return Answers(pedals=reply)
        case "tuning":
            return Answers(key=reply)
        case "inspected":
            return Answers(inspected=reply)
        case "advice":
            return Answers(advised_by="" if inspection_good(reply) else reply)  # "good" is nobody's name
        case "strings":
            every = reply.lower() == "all"
            return Answers(confirm_all=every, confirmed=() if every else _names(reply))
    return _doubt_answer(question, reply)


def _doubt_answer(question: "Question", reply: str) -> "Answers":
    """What settles a doubt about the whole harp: its setting, in the terms of its kind."""
    from analyzer.answers import Answers

    if "--pedals" in question.sentence:
        return Answers(pedals=reply)
    return Answers(levers=reply) if "--levers" in question.sentence else Answers(key=reply)


def _response(words: argparse.Namespace, folders: "Sequence[Path]", surveys: "Sequence[Survey]") -> "Response | None":
    """How the harp gave way between the surveys given with --from."""
    from analyzer import answers as asking
    from analyzer.errors import UnusableInput
    from analyzer.plan import response_of

    if len(surveys) < 2:
        if words.done is not None:
            raise UnusableInput("--done counts the passes between two surveys: name the earlier one with --from.")
        return None
    kept: list[Kept] = []
    for folder, before, after in zip(folders, surveys, surveys[1:], strict=False):
        if [t.string for t in before.tuning.targets] != [t.string for t in after.tuning.targets]:
            raise UnusableInput(f"{folder}: another layout ({before.layout.name}) than the later {after.layout.name}.")
        if before.tuning.targets != after.tuning.targets:
            raise UnusableInput(
                f"{folder}: tuned to {before.tuning.setting!r}, the later survey to {after.tuning.setting!r};"
                " analyze both with the same words."
            )
        plan = asking.read_kept(_home(folder))
        if plan is None or not plan.planned or plan.fingerprint != asking.fingerprint(before):
            raise UnusableInput(
                f"{folder}: no plan is kept with this survey, so what was done since is not known; leave out --from, or"
                " name the survey that the plan was made from."
            )
        kept.append(plan)
    done = [plan.checkpoint_passes for plan in kept]
    if words.done is not None:
        if not 0 <= words.done <= len(kept[-1].turns):
            raise UnusableInput(f"--done {words.done}: the last plan has {len(kept[-1].turns)} passes.")
        done[-1] = words.done
    return response_of(surveys, kept, done)


def _files(plan: "Plan", now: "datetime") -> "dict[str, bytes | str]":
    """Everything that is left in the folder."""
    from analyzer import plan_tables
    from analyzer.report import plan_page
    from analyzer.visits import to_ics

    return {
        "plan.csv": plan_tables.plan_csv(plan),
        "load.csv": plan_tables.load_csv(plan),
        "buy.csv": plan_tables.buy_csv(plan),
        "visits.ics": to_ics(plan.visits, title=plan.title, made_at=now),
        "plan.html": plan_page.render(plan),
        "plan.json": plan_tables.plan_json(plan),
    }


def _tell(plan: "Plan", out: "Path") -> None:
    """The summary, for the person."""
    from analyzer import plan_words
    from analyzer.speech import say

    page = say("To work from: {page}").format(page=out / "plan.html")
    sys.stderr.write("\n".join([*plan_words.summary(plan), page]) + "\n")
