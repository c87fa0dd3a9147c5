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
    manner.add_language(put)
    put.set_defaults(run=run_add)
    tell = actions.add_parser("list", help="one line for each entry")
    tell.add_argument("record", type=Path, metavar="RECORD_FOLDER")
    manner.add_language(tell)
    tell.set_defaults(run=run)
    show = actions.add_parser("show", help="the harp, or one entry, and whether its files are as they were")
    show.add_argument("record", type=Path, metavar="RECORD_FOLDER")
    show.add_argument("entry", nargs="?", metavar="NUMBER", help="as list gives it: 2026-03-01-001")
    manner.add_language(show)
    show.set_defaults(run=run_show)


def run_add(words: argparse.Namespace) -> int:
    """Put an entry in."""
    from analyzer import record
    from analyzer.cli.moment import now
    from analyzer.errors import UnusableInput
    from analyzer.speech import say
    from analyzer.spreadsheet import day

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
    with manner.spoken(words):
        told = say("Added {entry} to {record}.").format(entry=added.id, record=words.record)
    sys.stderr.write(f"{told}\n")
    return 0


def run(words: argparse.Namespace) -> int:
    """List the entries."""
    from analyzer import record
    from analyzer.speech import say

    _must_be(words.record)
    with manner.spoken(words):
        lines = [_line(entry) for entry in record.entries(words.record)] or [say("No entries yet.")]
    sys.stdout.write("\n".join(lines) + "\n")
    return 0


def run_show(words: argparse.Namespace) -> int:
    """Show the harp, or one entry."""
    from analyzer import record
    from analyzer.speech import say

    _must_be(words.record)
    with manner.spoken(words):
        facts = _of_entry(record.find(words.record, words.entry)) if words.entry else _of_harp(words.record)
        lines = [f"{name}: {value}" for name, value in facts.items() if value]
        lines += record.damaged(words.record) or [say("All files are as they were put in.")]
    sys.stdout.write("\n".join(lines) + "\n")
    return 0


def _of_entry(entry: "Entry") -> dict[str, str]:
    """What there is to say of one entry -> the words for it."""
    from analyzer.speech import say

    return {
        say("entry"): entry.id,
        say("date"): entry.date,
        say("title"): entry.title,
        say("who"): entry.who,
        say("where"): entry.where,
        say("done"): entry.done,
        say("humidity, %"): _number(entry.humidity_percent),
        say("temperature, °C"): _number(entry.temperature_c),
        say("photos"): ", ".join(entry.photos),
        say("recordings"): ", ".join(entry.recordings),
        say("files"): ", ".join(entry.files),
    }


def _of_harp(folder: Path) -> dict[str, str]:
    """The same of the harp whose record it is."""
    from analyzer import record
    from analyzer.speech import say

    about, every = record.read_about(folder), record.entries(folder)
    return {
        say("instrument"): about.instrument,
        say("serial number"): about.serial,
        say("asset number"): about.asset,
        say("entries"): str(len(every)),
        say("surveys"): str(sum(bool(e.files) for e in every)),
    }


def _must_be(folder: Path) -> None:
    from analyzer import record
    from analyzer.errors import UnusableInput

    if not record.is_record(folder):
        raise UnusableInput(f"{folder}: is no harp's record; 'harp-survey record add' begins one.")


def _line(entry: "Entry") -> str:
    from analyzer.speech import say_for

    what = say_for("of a record", "survey") if entry.files else say_for("of a record", "note")
    rest = "; ".join(part for part in (entry.title, entry.who, entry.done) if part)
    return f"{entry.id}  {what:<6}  {rest}".rstrip()


def _number(value: float | None) -> str:
    from analyzer.spelling import localised

    return "" if value is None else localised(f"{value:g}")
