"""`harp-survey analyze`: one harp's recordings to tables, figures and a report."""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer.cli import manner

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analyzer.answers import Kept
    from analyzer.layout import Layout
    from analyzer.pdf import Paper
    from analyzer.request import Request
    from analyzer.survey import Survey

OVERVIEW = "figures/overview.png"


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The words of this command."""
    words = commands.add_parser(
        "analyze",
        help="survey one harp from its recording",
        description="Surveys one harp. Strings are named C4, 5C (harp octave), 'third red from the top', 'string 12'.",
    )
    words.add_argument(
        "recordings", nargs="+", type=Path, metavar="RECORDING", help="one recording, or the parts of one harp's"
    )
    words.add_argument("--layout", required=True, help="a layout's name or file (harp-survey layouts lists them)")
    words.add_argument("--out", required=True, type=manner.folder, metavar="DIR", help="folder for the results")
    harp = words.add_argument_group("how the harp is set")
    harp.add_argument("--tuning", metavar="KEY", help="key of the open strings: C, E-flat, C-flat, F, …")
    harp.add_argument("--a4", type=float, default=440.0, metavar="HZ", help="the reference (440)")
    harp.add_argument("--levers", help="off, on, or the strings whose levers are on: C4,F4")
    harp.add_argument("--pedals", help="flat, natural, sharp, or the seven: 'D C Bb Eb F G A'")
    harp.add_argument(
        "--target", action="append", default=[], metavar="STRING=NOTE|CENTS|HZ", help="a string's own target: C1=+12.5"
    )
    known = words.add_argument_group("what you know")
    known.add_argument("--missing", metavar="STRINGS", help="strings not on the harp: F6,E2 (or: none)")
    known.add_argument("--only", metavar="STRINGS", help="a few recorded again: these and no others: G6,C5")
    known.add_argument("--order", choices=("up", "down", "any"), help="direction of plucking (found by itself)")
    known.add_argument("--first", "--start-from", dest="first", metavar="STRING", help="string plucked first")
    known.add_argument("--last", metavar="STRING", help="string plucked last")
    known.add_argument("--pluck", action="append", default=[], metavar="SECONDS=STRING", help="correct one pluck")
    known.add_argument("--ignore", action="append", default=[], type=float, metavar="SECONDS", help="no pluck is there")
    known.add_argument(
        "--reference", type=float, metavar="HZ", help="a fork or tone of this frequency sounds at the start"
    )
    known.add_argument(
        "--reference-survey",
        type=Path,
        metavar="FOLDER",
        help="survey of a similar harp in good order: shows where all strings of this one are old",
    )
    paper = words.add_argument_group("for the record")
    paper.add_argument("--title", default="", help="what you call the instrument")
    paper.add_argument("--date", default="", help="day of the recording: 2026-03-01")
    paper.add_argument("--pdf", action="store_true", help="write report.pdf too, to print and sign")
    paper.add_argument("--paper", choices=("a4", "letter"), default="a4", help="size of the PDF's pages (a4)")
    paper.add_argument("--overview", action="store_true", help="draw the whole recording with every pluck named")
    paper.add_argument("--no-clips", action="store_true", help="leave the recorded plucks out of the report")
    manner.add(paper)
    paper.add_argument("--humidity", type=manner.humidity_percent, metavar="PERCENT", help="relative humidity there")
    paper.add_argument("--temperature", type=manner.temperature_c, metavar="CELSIUS", help="temperature there")
    words.set_defaults(run=run)


def run(words: argparse.Namespace) -> int:
    """Analyse, write everything or nothing, and say in a few sentences what was found."""
    from analyzer.sentences import summary, to_mind
    from analyzer.signing import check_unsigned

    check_unsigned(words.out)
    survey = analyzed(words)
    # a PDF or a picture that lies there would not be of this recording
    with_pdf = words.pdf or (words.out / "report.pdf").is_file()
    with_overview = words.overview or (words.out / OVERVIEW).is_file()
    with manner.spoken(words):
        write(
            survey,
            words.out,
            () if words.no_clips else words.recordings,
            paper=words.paper if with_pdf else None,
            overview_of=words.recordings[0] if with_overview else None,
        )
        for sentence in (*summary(survey), *to_mind(survey)):
            sys.stderr.write(f"{sentence}\n")
        manner.tell_page(words.out / "report.html")
    return 0


def analyzed(words: argparse.Namespace) -> "Survey":
    """The survey that the words ask for, with progress on stderr where that is a terminal."""
    from analyzer.cli.progress import telling

    request = requested(words)
    with manner.spoken(words), telling() as tell:
        tell("starting")
        from analyzer.pipeline import analyze
        from analyzer.settings import Settings

        return analyze(request, Settings(), tell)


def write(
    survey: "Survey",
    folder: Path,
    recordings: "Sequence[Path]" = (),
    *,
    paper: "Paper | None" = None,
    overview_of: Path | None = None,
    answers_in: Path | None = None,
) -> None:
    """All files of the survey, whole or not at all, for people in the manner of the moment.

    With `recordings`, the survey's, the report has the plucks to listen to; with `paper` there is a PDF too; with
    `overview_of`, the first recording, a picture of it. The answers to a plan are looked for in `answers_in`, by
    default in the folder itself. signed.json lists the hashes of all of it, signed by nobody yet.
    """
    from analyzer import figures, report, tables
    from analyzer.clips import cut
    from analyzer.outlook import look_ahead, settled
    from analyzer.signing import SIGNED, recordings_of, sha256, sign
    from analyzer.survey import to_json
    from analyzer.writing import write_files

    kept = _kept(answers_in or folder)
    shown = settled(survey, kept)
    outlook = look_ahead(shown, kept)
    drawn = figures.files(survey)
    clips = cut(recordings, survey)
    charts = {name: drawn[f"figures/{name}.svg"].decode("utf-8") for name in figures.NAMES}
    files: dict[str, bytes | str] = {
        "survey.json": to_json(survey),
        "strings.csv": tables.strings_csv(survey),
        "plucks.csv": tables.plucks_csv(survey),
        "report.html": report.render(shown, charts | figures.narrow(survey), clips, outlook),
        **drawn,
    }
    if paper is not None:
        from analyzer import pdf

        files["report.pdf"] = pdf.render(shown, charts, clips, paper, outlook)
    if overview_of is not None:
        from analyzer.overview import picture
        from analyzer.settings import Settings

        files[OVERVIEW] = picture(overview_of, survey, Settings().recording, Settings().overview)
    files[SIGNED] = sign(
        files,
        date=survey.date or survey.made_at[:10],
        instrument=survey.title,
        surveys={sha256(files["survey.json"]): "survey.json"},
        recordings=recordings_of([survey]),
    )
    write_files(folder, files)


def _kept(folder: Path) -> "Kept | None":
    """The answers to a plan that lie in the folder; none where there are none that can be read."""
    from analyzer.answers import read_kept
    from analyzer.errors import UnusableInput
    from analyzer.restating import restated_error

    try:
        return read_kept(folder) if folder.is_dir() else None
    except UnusableInput as e:
        sys.stderr.write(restated_error(f"The report has no plan: {e}") + "\n")
        return None


def requested(words: argparse.Namespace) -> "Request":
    """The words as a request; every name checked against the layout. Raises UnusableInput."""
    from analyzer.cli.moment import now
    from analyzer.layout import load_layout
    from analyzer.request import Request
    from analyzer.spreadsheet import day
    from analyzer.survey import read_survey
    from analyzer.tuning import make_tuning

    layout = load_layout(words.layout)
    targets = _pairs(words.target, "--target C1=Cb1", layout)
    tuning = make_tuning(
        layout,
        words.tuning,
        a4_hz=words.a4,
        levers=words.levers,
        pedals=words.pedals,
        own_targets=targets or None,
    )
    return Request(
        recordings=tuple(words.recordings),
        layout=layout,
        tuning=tuning,
        title=words.title,
        date=day(words.date),
        order=words.order,
        first=_string(words.first, layout),
        last=_string(words.last, layout),
        missing=_strings(words.missing, layout),
        only=_only(words, layout),
        named=tuple(_named(word, layout) for word in words.pluck),
        ignored=tuple(words.ignore),
        reference_hz=words.reference,
        reference_survey=None if words.reference_survey is None else read_survey(words.reference_survey),
        said=_said(words),
        made_at=now(),
    )


def _said(words: argparse.Namespace) -> dict[str, str]:
    """Option -> words, of what bears on the reading, so that a rerun can say it again."""
    out = {"layout": Path(words.layout).name}
    for name in ("tuning", "levers", "pedals", "missing", "only", "order", "first", "last", "reference"):
        if (value := getattr(words, name)) is not None:
            out[name] = str(value)
    for name in ("target", "pluck", "ignore"):
        if value := getattr(words, name):
            out[name] = "; ".join(str(v) for v in value)
    for name in ("humidity", "temperature"):
        if (number := getattr(words, name)) is not None:
            out[name] = f"{number:g}"
    if words.reference_survey is not None:
        out["reference-survey"] = words.reference_survey.name
    if words.a4 != 440.0:
        out["a4"] = f"{words.a4:g}"
    return out


def _string(text: str | None, layout: "Layout") -> str | None:
    from analyzer.notes import string_named

    return None if text is None else string_named(text, layout)


def _strings(text: str | None, layout: "Layout") -> frozenset[str] | None:
    from analyzer.notes import string_named

    if text is None:
        return None
    if text.strip().lower() in ("", "none"):
        return frozenset()
    return frozenset(string_named(part, layout) for part in text.split(",") if part.strip())


def _only(words: argparse.Namespace, layout: "Layout") -> frozenset[str] | None:
    """The few strings that were recorded again. Raises UnusableInput where none is named or the ends are said too."""
    from analyzer.errors import UnusableInput

    if words.only is None:
        return None
    if not (only := _strings(words.only, layout)):
        raise UnusableInput("--only names no string; name those that were plucked, as in G6,C5, or leave it out.")
    if words.first or words.last:
        raise UnusableInput("--only says already which strings were plucked: leave out --first and --last.")
    return only


def _pairs(texts: list[str], example: str, layout: "Layout") -> dict[str, str]:
    from analyzer.errors import UnusableInput
    from analyzer.notes import string_named

    out = {}
    for text in texts:
        name, sign, value = text.partition("=")
        if not sign or not value.strip():
            raise UnusableInput(f"{text!r} has no '='; write it like {example}.")
        out[string_named(name, layout)] = value.strip()
    return out


def _named(text: str, layout: "Layout") -> tuple[float, str]:
    from analyzer.errors import UnusableInput
    from analyzer.notes import string_named

    seconds, sign, name = text.partition("=")
    try:
        at_s = float(seconds)
    except ValueError as e:
        raise UnusableInput(f"--pluck {text!r}: {seconds!r} is no number of seconds; write --pluck 34.2=D4.") from e
    if not sign:
        raise UnusableInput(f"--pluck {text!r} has no string; write --pluck 34.2=D4.")
    return at_s, string_named(name, layout)
