"""`harp-survey batch`: many harps in one run, one page that says which to work on first."""

import argparse
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer.cli import manner

if TYPE_CHECKING:
    from analyzer.collection_tables import Collection
    from analyzer.intake import Found
    from analyzer.prices import Prices
    from analyzer.workers import Limits

ABOUT = """Surveys every recording of a folder, or of a list (a CSV file with the columns instrument, recordings, and
perhaps layout, tuning, a4, levers, pedals, missing, date, place, humidity, note; its cells parted by commas, or by
semicolons throughout). Several recordings of one harp are parted by ';' within their cell, which stands in quotation
marks where semicolons part the cells too. The whole list is checked before anything is started. The same command goes
on where it was stopped, and does again only what has changed."""


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The words of this command."""
    words = commands.add_parser("batch", help="survey many harps: a folder, or a list", description=ABOUT)
    words.add_argument("source", type=Path, metavar="FOLDER|MANIFEST.csv", help="the recordings, or their list")
    words.add_argument("--out", required=True, type=manner.folder, metavar="DIR", help="folder for the results")
    harp = words.add_argument_group("for every harp whose line or name does not say otherwise")
    harp.add_argument("--layout", default="", help="a layout's name or file")
    harp.add_argument("--tuning", default="", metavar="KEY", help="key of the open strings: C, E-flat, …")
    harp.add_argument("--a4", default="", metavar="HZ", help="the reference (440)")
    harp.add_argument("--levers", default="", help="off, on, or the strings whose levers are on")
    harp.add_argument("--pedals", default="", help="flat, natural, sharp, or the seven")
    harp.add_argument("--missing", default="", metavar="STRINGS", help="strings not on the harps (or: none)")
    harp.add_argument("--date", default="", help="day of the recordings: 2026-03-01")
    words.add_argument("--prices", type=Path, metavar="FILE.csv", help="your own price list: string,price")
    words.add_argument(
        "--reports",
        choices=("none", "summary", "full"),
        default="summary",
        help="a page for each harp: none, a short one (summary), or as analyze makes it (full)",
    )
    words.add_argument("--workers", type=int, metavar="N", help="processes at once (as many as there are cores)")
    words.add_argument("--dask", metavar="ADDRESS", help="use the workers of this Dask scheduler instead")
    words.add_argument("--limit-seconds", type=float, metavar="S", help="most time for one harp")
    words.add_argument("--limit-mb", type=float, metavar="MB", help="most memory for one harp")
    manner.add(words)
    words.set_defaults(run=run)


def run(words: argparse.Namespace) -> int:
    """Check everything, survey what is not finished, write the tables and the page.

    Some recordings that gave nothing are rows of failures.csv, and the batch is done; where none gave anything the exit
    code is that of a recording with too little of a harp in it.
    """
    from analyzer.errors import TooLittleHarp, UnusableInput
    from analyzer.settings import BatchSettings
    from analyzer.signing import check_unsigned
    from analyzer.workers import Limits

    check_unsigned(words.out)
    s = BatchSettings()
    limits = Limits(
        seconds=s.limit_s if words.limit_seconds is None else words.limit_seconds,
        mb=s.limit_mb if words.limit_mb is None else words.limit_mb,
    )
    for option, value in (("--limit-seconds", limits.seconds), ("--limit-mb", limits.mb), ("--workers", words.workers)):
        if value is not None and not value > 0:
            raise UnusableInput(f"{option} {value:g}: give a number above 0.")
    found = _found(words)
    prices = _prices(words.prices, found)
    try:
        with _safe_path():
            collection, again_n = _surveyed(words, found, prices, limits)
    except KeyboardInterrupt:
        sys.stderr.write("harp-survey: stopped; what is finished is kept, and the same command goes on from here.\n")
        return 130
    if not collection.rows:
        raise TooLittleHarp(
            f"nothing could be surveyed: {words.out / 'failures.csv'} says of each recording why, and what to do."
        )
    with manner.spoken(words):
        _tell(collection, found, again_n, words.out)
    return 0


@contextmanager
def _safe_path() -> Iterator[None]:
    """The workers started within take no modules from the folder they are started in."""
    before = os.environ.get("PYTHONSAFEPATH")
    os.environ["PYTHONSAFEPATH"] = "1"
    try:
        yield
    finally:
        if before is None:
            del os.environ["PYTHONSAFEPATH"]
        else:
            os.environ["PYTHONSAFEPATH"] = before


def _found(words: argparse.Namespace) -> "Found":
    from analyzer.errors import UnusableInput
    from analyzer.folder import read_folder
    from analyzer.intake import Words, one_line
    from analyzer.manifest import read_manifest

    names = ("layout", "tuning", "a4", "levers", "pedals", "missing", "date")
    common = Words(**{name: getattr(words, name).strip() for name in names})
    try:
        if words.source.is_dir():
            return read_folder(words.source, common)
        if words.source.is_file():
            return read_manifest(words.source, common)
    except (OSError, ValueError):
        pass
    raise UnusableInput(f"{one_line(str(words.source))}: no folder or file that can be read; check the name.")


def _prices(file: Path | None, found: "Found") -> "dict[str, Prices]":
    """The price list as each layout's strings are named in it."""
    from analyzer.prices import read_prices

    layouts = {item.layout.name: item.layout for item in found.items}
    return {} if file is None else {name: read_prices(file, layout) for name, layout in layouts.items()}


def _surveyed(
    words: argparse.Namespace, found: "Found", prices: "dict[str, Prices]", limits: "Limits"
) -> "tuple[Collection, int]":
    """The collection, written, and how many instruments were finished before."""
    from analyzer.collection import Errand, survey_all
    from analyzer.collection_tables import collect

    errand = Errand(
        folder=words.out.absolute(), reports=words.reports, prices=prices, limits=limits, manner=manner.of(words)
    )
    with _telling() as tell:
        outcomes = survey_all(
            found.items, errand, workers_n=words.workers or os.cpu_count() or 1, dask=words.dask, tell=tell
        )
    collection = collect(found, outcomes, priced=words.prices is not None)
    with manner.spoken(words):
        _write(words.out, collection)
    return collection, sum(outcomes[row.item.key].found for row in collection.rows)


def _write(out: Path, collection: "Collection") -> None:
    """The tables and the page, whole or not at all; one batch at a time."""
    import filelock

    from analyzer import collection_tables as tables
    from analyzer.collection import INSTRUMENTS, LOCKS
    from analyzer.report import collection_page
    from analyzer.version import VERSION
    from analyzer.writing import sweep, write_files

    files: dict[str, bytes | str] = {
        "instruments.csv": tables.instruments_csv(collection),
        "failures.csv": tables.failures_csv(collection),
        "buy.csv": tables.buy_csv(collection),
        "collection.html": collection_page.render(collection, VERSION),
    }
    locks = out / INSTRUMENTS / LOCKS
    with filelock.FileLock(str(locks / "tables.lock")) if locks.is_dir() else nullcontext():
        sweep(out)
        write_files(out, files)


@contextmanager
def _telling() -> "Iterator[Callable[[int, int], None]]":
    """A bar on a terminal, nothing elsewhere."""
    if not sys.stderr.isatty():
        yield lambda done_n, all_n: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("surveying"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True)) as progress:
        task = progress.add_task("", total=None)
        yield lambda done_n, all_n: progress.update(task, completed=done_n, total=all_n)


def _tell(collection: "Collection", found: "Found", again_n: int, out: Path) -> None:
    """What came of it, in a few sentences."""
    from analyzer.restating import restated_each
    from analyzer.speech import say, say_many

    lines = [say_many("{n} instrument surveyed.", "{n} instruments surveyed.", len(collection.rows))]
    if again_n:
        lines.append(say_many("{n} of them finished before.", "{n} of them finished before.", again_n))
    if failed_n := len(collection.failures):
        text = say_many("{n} recording gave nothing: see {file}.", "{n} recordings gave nothing: see {file}.", failed_n)
        lines.append(text.format(file="failures.csv"))
    if found.passed_over_n:
        lines.append(say_many("{n} other file passed over.", "{n} other files passed over.", found.passed_over_n))
    for row in collection.rows[:1]:
        why = " ".join(one.text for one in restated_each(row.line.why))
        lines.append(say("First: {instrument}: {why}").format(instrument=row.item.instrument, why=why))
    sys.stderr.write("\n".join(lines) + "\n")
    manner.tell_page(out / "collection.html")
