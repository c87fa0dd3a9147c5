"""`harp-survey record`: one harp's record, a folder to copy, mail and back up."""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer.cli import manner

if TYPE_CHECKING:
    from analyzer.record import Entry


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The words of this command."""
    words = commands.add_parser("record", help="keep one harp's surveys and notes together")
    actions = words.add_subparsers(metavar="add|list|show", dest="action", required=True)
    put = actions.add_parser("add", help="put a survey, or only a note, into the record")
    put.add_argument("record", type=Path, metavar="RECORD_FOLDER", help="the harp's folder; begun if need be")
    put.add_argument("survey", nargs="?", type=Path, metavar="SURVEY_FOLDER", help="what analyze wrote")
    put.add_argument("--date", default="", metavar="DAY", help="day of the visit (else the survey's)")
    put.add_argument("--who", default="", help="who was there")
    put.add_argument("--where", default="", help="where the harp stood")
    put.add_argument("--done", default="", help="what was done")
    put.add_argument("--humidity", type=manner.humidity_percent, metavar="PERCENT", help="relative humidity")
    put.add_argument("--temperature", type=manner.temperature_c, metavar="CELSIUS", help="of the room")
    put.add_argument("--photo", action="append", default=[], metavar="FILE", help="file name of a photo (not copied)")
    put.add_argument("--instrument", default="", help="what the harp is")
    put.add_argument("--serial", default="", help="its serial number")
    put.add_argument("--asset", default="", help="the owner's own number of it")
    put.set_defaults(run=run_add)
    tell = actions.add_parser("list", help="one line for each entry")
    tell.add_argument("record", type=Path, metavar="RECORD_FOLDER")
    tell.set_defaults(run=run)
    show = actions.add_parser("show", help="the harp, or one entry, and whether its files are as they were")
    show.add_argument("record", type=Path, metavar="RECORD_FOLDER")
    show.add_argument("entry", nargs="?", metavar="NUMBER", help="as list gives it: 2026-03-01-001")
    show.set_defaults(run=run_show)


def run_add(words: argparse.Namespace) -> int:
    """Put an entry in."""
    from analyzer import record
    from analyzer.cli.moment import day, now
    from analyzer.errors import UnusableInput

    what = (words.survey, words.date, words.who, words.where, words.done, words.photo)
    harp = (words.instrument, words.serial, words.asset)
    if not any((*what, *harp)) and words.humidity is None and words.temperature is None:
        raise UnusableInput("nothing to put into the record: name a survey's folder, or say what was --done.")
    entry = record.Entry(
        date=day(words.date) or ("" if words.survey else now()[:10]),
        who=words.who,
        where=words.where,
        done=words.done,
        humidity_percent=words.humidity,
        temperature_c=words.temperature,
        photos=tuple(Path(name).name for name in words.photo),
    )
    about = record.About(instrument=words.instrument, serial=words.serial, asset=words.asset)
    added = record.add(words.record, entry, survey=words.survey, about=about)
    sys.stderr.write(f"Added {added.id} to {words.record}.\n")
    return 0


def run(words: argparse.Namespace) -> int:
    """List the entries."""
    from analyzer import record

    _must_be(words.record)
    lines = [_line(entry) for entry in record.entries(words.record)]
    sys.stdout.write("\n".join(lines or ["No entries yet."]) + "\n")
    return 0


def run_show(words: argparse.Namespace) -> int:
    """Show the harp, or one entry."""
    from analyzer import record

    _must_be(words.record)
    if words.entry:
        entry = record.find(words.record, words.entry)
        facts = {
            "entry": entry.id,
            "date": entry.date,
            "title": entry.title,
            "who": entry.who,
            "where": entry.where,
            "done": entry.done,
            "humidity, %": _number(entry.humidity_percent),
            "temperature, °C": _number(entry.temperature_c),
            "photos": ", ".join(entry.photos),
            "recordings": ", ".join(entry.recordings),
            "files": ", ".join(entry.files),
        }
    else:
        about = record.read_about(words.record)
        every = record.entries(words.record)
        facts = {
            "instrument": about.instrument,
            "serial number": about.serial,
            "asset number": about.asset,
            "entries": str(len(every)),
            "surveys": str(sum(bool(e.files) for e in every)),
        }
    lines = [f"{name}: {value}" for name, value in facts.items() if value]
    lines += record.damaged(words.record) or ["All files are as they were put in."]
    sys.stdout.write("\n".join(lines) + "\n")
    return 0


def _must_be(folder: Path) -> None:
    from analyzer import record
    from analyzer.errors import UnusableInput

    if not record.is_record(folder):
        raise UnusableInput(f"{folder}: is no harp's record; 'harp-survey record add' begins one.")


def _line(entry: "Entry") -> str:
    what = "survey" if entry.files else "note"
    rest = "; ".join(part for part in (entry.title, entry.who, entry.done) if part)
    return f"{entry.id}  {what:<6}  {rest}".rstrip()


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:g}"
