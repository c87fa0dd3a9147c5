"""`harp-survey report`: a survey's report once more: with the plan, on paper, in another language."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer.cli import manner

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analyzer.survey import Survey

ABOUT = """Makes the report of a survey once more, without listening again: with the passes of the plan whose answers
were kept with it, as a PDF too, in another language. With the recordings named the plucks can be listened to."""


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The words of this command."""
    words = commands.add_parser("report", help="make a survey's report once more", description=ABOUT)
    words.add_argument("survey", type=Path, metavar="SURVEY_FOLDER", help="what analyze wrote")
    words.add_argument("recordings", nargs="*", type=Path, metavar="RECORDING", help="the recordings it was made from")
    words.add_argument("--out", type=manner.folder, metavar="DIR", help="another folder (the survey's own)")
    words.add_argument(
        "--pdf",
        action="store_true",
        help="write report.pdf too, to print and sign (always where one lies there)",
    )
    words.add_argument("--paper", choices=("a4", "letter"), default="a4", help="size of the PDF's pages (a4)")
    manner.add(words)
    words.set_defaults(run=run)


def run(words: argparse.Namespace) -> int:
    """Write the survey's files again, whole or not at all."""
    from analyzer.cli.analyze import write
    from analyzer.signing import check_unsigned
    from analyzer.survey import read_survey

    survey = read_survey(words.survey)
    recordings = _in_order(survey, words.recordings)
    home = words.survey if words.survey.is_dir() else words.survey.parent
    out = words.out or home
    check_unsigned(out)
    with_pdf = words.pdf or (out / "report.pdf").is_file()  # one that lies there would not be of this report
    with manner.spoken(words):
        write(survey, out, recordings, paper=words.paper if with_pdf else None, answers_in=home)
        manner.tell_page(out / "report.html")
    return 0


def _in_order(survey: "Survey", files: "Sequence[Path]") -> list[Path]:
    """The files in the order of the survey's recordings. Raises UnusableInput unless they are those."""
    from analyzer.errors import UnusableInput
    from analyzer.record import file_sha256

    if not files:
        return []
    try:
        given = {file_sha256(file): file for file in files}
    except OSError as e:
        raise UnusableInput(f"{e.filename}: the recording cannot be opened ({e.strerror}).") from e
    wanted = {info.sha256: info.name for info in survey.recordings}
    for sha256, file in given.items():
        if sha256 not in wanted:
            raise UnusableInput(f"{file}: the survey was not made from this recording; name the file it was made from.")
    for sha256, name in wanted.items():
        if sha256 not in given:
            raise UnusableInput(f"{name}: this recording of the survey is not among the files; name all or none.")
    return [given[info.sha256] for info in survey.recordings]
