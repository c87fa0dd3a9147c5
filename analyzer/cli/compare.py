"""`harp-survey compare`: before and after, how a harp settles, what its levers or pedals raise."""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer.cli import manner

if TYPE_CHECKING:
    from analyzer.changes import New
    from analyzer.comparison import Comparison, Said, Source

ABOUT = """Compares surveys of one harp in the order of their dates: what changed, by how much, with what certainty;
from three on, how it settles and how often to tune it. Each is a folder that analyze wrote, a harp's record (all its
surveys), or a recording; a recording may carry its day, as in after.flac=2026-03-15, and takes the options below."""


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The words of this command."""
    words = commands.add_parser("compare", help="compare surveys of one harp over time", description=ABOUT)
    words.add_argument("surveys", nargs="*", metavar="SURVEY", help="survey folders, records or recordings")
    words.add_argument(
        "--out", required=True, type=manner.folder, metavar="DIR", help="folder for changes.csv, compare.html, …"
    )
    words.add_argument(
        "--new",
        action="append",
        default=[],
        metavar="STRING=DATE",
        help="a string put on new, and on which day (between two surveys the day may be left out): C5=2026-03-02,F6",
    )
    words.add_argument("--retuned", action="append", default=[], metavar="DATE", help="a day the harp was retuned on")
    raised = words.add_argument_group("regulation")
    raised.add_argument(
        "--regulation",
        nargs=2,
        metavar=("OPEN", "ENGAGED"),
        help="measure what levers or pedals raise: a survey with them off (flat), and one with them on",
    )
    raised.add_argument("--settled", action="store_true", help="the harp holds its tuning, so that it can be judged")
    heard = words.add_argument_group("for recordings")
    heard.add_argument("--layout", help="the harp's layout")
    heard.add_argument("--tuning", metavar="KEY", help="key of the open strings")
    heard.add_argument("--a4", type=float, default=440.0, metavar="HZ", help="the reference (440)")
    heard.add_argument("--levers", help="off, on, or the strings whose levers are on")
    heard.add_argument("--pedals", help="flat, natural, sharp, or the seven")
    paper = words.add_argument_group("for whoever pays")
    paper.add_argument("--instrument", default="", metavar="NAME", help="what the document calls the harp")
    paper.add_argument("--technician", default="", metavar="NAME", help="whose name the document is to be signed with")
    paper.add_argument("--asset", default="", metavar="NUMBER", help="the owner's own number of the instrument")
    paper.add_argument("--borrower", default="", metavar="NAME", help="lent to: adds condition at issue and return")
    paper.add_argument("--labour-rate", type=float, metavar="MONEY", help="the owner's price of an hour")
    paper.add_argument("--visit-rate", type=float, metavar="MONEY", help="of a visit besides")
    paper.add_argument("--string-price", type=float, metavar="MONEY", help="of a string, on average")
    manner.add(paper)
    words.set_defaults(run=run)


def run(words: argparse.Namespace) -> int:
    """Compare, write everything or nothing, and say in a few sentences what was found."""
    from analyzer.cli.moment import now
    from analyzer.compare_words import named
    from analyzer.comparison import make_comparison
    from analyzer.errors import UnusableInput
    from analyzer.restating import restated
    from analyzer.settings import Settings
    from analyzer.signing import check_unsigned
    from analyzer.version import VERSION
    from analyzer.writing import write_files

    if words.regulation and words.surveys:
        raise UnusableInput("--regulation OPEN ENGAGED names both surveys; leave out the others.")
    check_unsigned(words.out)
    sources = [source for text in words.regulation or words.surveys for source in _sources(text, words)]
    comparison = make_comparison(sources, _said(words), Settings(), program_version=VERSION, made_at=now())
    with manner.spoken(words):
        write_files(words.out, _files(comparison, {s.sha256: s.name for s in sources}))
        for sentence in (*comparison.summary, *(comparison.course.sentences if comparison.course else ())):
            sys.stderr.write(f"{restated(named(comparison, sentence)).text}\n")
        manner.tell_page(words.out / "compare.html")
    return 0


def _said(words: argparse.Namespace) -> "Said":
    from datetime import date

    from analyzer.comparison import Said
    from analyzer.errors import UnusableInput
    from analyzer.paying import Rates
    from analyzer.spreadsheet import day

    for name in ("labour_rate", "visit_rate", "string_price"):
        value = getattr(words, name)
        if value is not None and not 0 <= value < float("inf"):
            raise UnusableInput(f"--{name.replace('_', '-')} {value:g} is no price; give a number of 0 or more.")
    return Said(
        new=tuple(_new(part) for text in words.new for part in text.split(",") if part.strip()),
        retuned=tuple(date.fromisoformat(day(part)) for text in words.retuned for part in text.split(",") if part),
        regulation=bool(words.regulation),
        settled=words.settled,
        lent=bool(words.borrower),
        instrument=words.instrument,
        technician=words.technician,
        asset=words.asset,
        borrower=words.borrower,
        rates=Rates(labour_per_hour=words.labour_rate, per_visit=words.visit_rate, per_string=words.string_price),
    )


def _new(text: str) -> "New":
    """A string, perhaps with the day it was put on."""
    from datetime import date

    from analyzer.changes import New
    from analyzer.spreadsheet import day

    string, _, on = text.partition("=")
    return New(string=string.strip(), day=date.fromisoformat(day(on.strip())) if on.strip() else None)


def _sources(text: str, words: argparse.Namespace) -> "list[Source]":
    """The survey, or all surveys of the record, or the survey of the recording, that the text names."""
    from analyzer import record

    path = Path(text)
    if path.is_dir() and record.is_record(path):
        return _of_record(path)
    if path.is_dir() or path.suffix.lower() == ".json":
        return [_of_folder(path)]
    return [_of_recording(text, words)]


def _of_folder(path: Path) -> "Source":
    from analyzer.comparison import Source
    from analyzer.merging import check_whole
    from analyzer.record import file_sha256
    from analyzer.survey import read_survey

    survey = read_survey(path)
    check_whole(survey, str(path))
    file = path / "survey.json" if path.is_dir() else path
    return Source(survey=survey, name=path.resolve().name, sha256=file_sha256(file))


def _of_record(path: Path) -> "list[Source]":
    """All surveys of a record, with the weather noted with them; not those of single strings recorded again."""
    from dataclasses import replace

    from analyzer import record
    from analyzer.survey import read_survey

    sources = []
    for entry in record.entries(path):
        folder = record.survey_folder(path, entry)
        if folder is not None and not read_survey(folder).said.get("only"):
            source = _of_folder(folder)
            noted = {"humidity": entry.humidity_percent, "temperature": entry.temperature_c}
            said = {name: f"{value:g}" for name, value in noted.items() if value is not None}
            survey = replace(source.survey, date=entry.date, said={**source.survey.said, **said})
            sources.append(replace(source, survey=survey, name=entry.id))
    return sources


def _of_recording(text: str, words: argparse.Namespace) -> "Source":
    from analyzer.cli.moment import now
    from analyzer.cli.progress import telling
    from analyzer.comparison import Source
    from analyzer.errors import UnusableInput
    from analyzer.layout import load_layout
    from analyzer.request import Request
    from analyzer.signing import sha256
    from analyzer.spreadsheet import day
    from analyzer.survey import to_json
    from analyzer.tuning import make_tuning

    name, _, date = text.partition("=")
    if Path(text).exists():
        name, date = text, ""
    if not Path(name).exists():
        raise UnusableInput(f"{name}: there is no such survey folder or recording.")
    if not words.layout:
        raise UnusableInput(f"{name}: a recording needs --layout (and --tuning); or name a folder that analyze wrote.")
    layout = load_layout(words.layout)
    tuning = make_tuning(layout, words.tuning, a4_hz=words.a4, levers=words.levers, pedals=words.pedals)
    said = {"layout": Path(words.layout).name}
    said |= {k: v for k in ("tuning", "levers", "pedals") if (v := getattr(words, k)) is not None}
    request = Request(recordings=(Path(name),), layout=layout, tuning=tuning, date=day(date), said=said, made_at=now())
    with telling() as tell:
        from analyzer.pipeline import analyze
        from analyzer.settings import Settings

        survey = analyze(request, Settings(), tell)
    return Source(survey=survey, name=Path(name).name, sha256=sha256(to_json(survey)))


def _files(comparison: "Comparison", surveys: dict[str, str]) -> dict[str, bytes | str]:
    """Everything that is left in the folder, with the list of what belongs together."""
    from analyzer.change_tables import changes_csv, regulation_csv
    from analyzer.comparison import recordings_of, to_json
    from analyzer.report import compare_page
    from analyzer.signing import SIGNED, sign

    files: dict[str, bytes | str] = {
        "changes.csv": changes_csv(comparison),
        "compare.html": compare_page.render(comparison),
        "compare.json": to_json(comparison),
    }
    if comparison.regulation:
        files["regulation.csv"] = regulation_csv(comparison.regulation.strings)
    files[SIGNED] = sign(
        files,
        named=comparison.technician,
        date=comparison.made_at[:10],
        instrument=comparison.instrument,
        surveys=surveys,
        recordings=recordings_of(comparison),
    )
    return files
