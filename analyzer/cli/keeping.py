"""What `plan` leaves with a survey: the answers, and, where a finding forbids a plan, no work order to work from."""

import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

    from analyzer.answers import Answers, Kept
    from analyzer.survey import Survey

WORKED_FROM = ("plan.csv", "plan.json", "visits.ics")
"""Besides the page, what turns are taken from: by hand, by `tones`, by a calendar."""


def keep(home: "Path", kept: "Kept", *, though_signed: bool = False) -> bool:
    """Leave the answers with the survey, and whether they are left; where that is not possible, say so and go on.

    Answers that somebody signed stay as they are, but for a finding that forbids a plan (`though_signed`).
    """
    from analyzer import answers as asking
    from analyzer.errors import UnusableInput
    from analyzer.restating import restated_error
    from analyzer.signing import check_unsigned_among
    from analyzer.writing import write_files

    files = {asking.KEPT_FILE: asking.kept_json(kept)}
    try:
        if not though_signed:
            check_unsigned_among(home, files)
        write_files(home, files)
    except UnusableInput as e:
        unkept = restated_error(f"The answers are not kept with the survey and will be asked again: {e}")
        sys.stderr.write(f"{unkept}\n")
        return False
    return True


def _without_plan(survey: "Survey", said: "Answers", kept: "Kept | None") -> "Kept":
    """The answers to be kept, whatever plan was made before: its turns stay, as some may have been done."""
    from dataclasses import replace

    from analyzer import answers as asking

    fingerprint = asking.fingerprint(survey)
    if kept and kept.fingerprint == fingerprint:
        return replace(kept, answers=asking.joined(kept.answers, said))
    return asking.Kept(
        schema=asking.KEPT_SCHEMA, fingerprint=fingerprint, answers=said, turns=(), checkpoint_passes=0, planned=False
    )


def keep_answers(home: "Path", survey: "Survey", said: "Answers", kept: "Kept | None") -> None:
    """Leave answers on which no plan could be made with the survey, and say so."""
    from analyzer.speech import say

    if keep(home, _without_plan(survey, said, kept)):
        left = say("What was answered is kept: next time only the rest is asked.")
        sys.stderr.write(f"\n{left}\n")


def withdraw(
    out: "Path",
    home: "Path",
    survey: "Survey",
    said: "Answers",
    kept: "Kept | None",
    now: "datetime",
    *,
    all_said: bool,
) -> None:
    """Keep a finding that forbids a plan, and take back the work order in `out`: a page in its place says so and why.

    With `all_said` the other answers are kept too. A finding outweighs a signature: what somebody signed is altered
    too, and that is said.
    """
    from analyzer import answers as asking
    from analyzer.errors import UnusableInput
    from analyzer.report import withdrawn_page
    from analyzer.signing import signed_among
    from analyzer.speech import say
    from analyzer.writing import write_files

    finding = asking.Answers(inspected=said.inspected, historical=said.historical)
    kept_now = _without_plan(survey, said if all_said else finding, kept)
    signed = [signed_among(home, {asking.KEPT_FILE: asking.kept_json(kept_now)})]
    keep(home, kept_now, though_signed=True)
    planned = any((out / name).exists() for name in ("plan.html", *WORKED_FROM))
    instead = {"plan.html": withdrawn_page.render(survey, said, str(now.date()))} if planned else {}
    signed.append(signed_among(out, {**instead, **dict.fromkeys(WORKED_FROM, "")} if planned else {}))
    for folder, name in dict.fromkeys(one for one in signed if one):
        again = say("{folder}: what {name} signed here was altered by this finding: have it signed again.")
        sys.stderr.write(again.format(folder=folder, name=name) + "\n")
    if not planned:
        return
    write_files(out, instead)
    try:
        for name in WORKED_FROM:
            (out / name).unlink(missing_ok=True)
    except OSError as e:
        raise UnusableInput(f"{e.filename}: It cannot be removed; close it, and do not work from it.") from e
    page = say("The work order is withdrawn: {page}").format(page=out / "plan.html")
    sys.stderr.write(f"{page}\n")
