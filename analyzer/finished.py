"""Finished instruments of a batch: what is known of them, and whether they have to be done again.

`batch.json` lies in an instrument's folder with the fingerprint of what its results were made from. It is the last file
to come into the folder and the first to go, so that a batch killed at any moment finds finished work finished and
unfinished work not begun.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import msgspec

from analyzer.intake import Item
from analyzer.json_files import read_json
from analyzer.settings import Settings
from analyzer.speech import Manner
from analyzer.triage import Line
from analyzer.version import VERSION
from analyzer.worker import Reports

RECORD = "batch.json"
SCHEMA = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """`batch.json`: what is known of an instrument when it is finished."""

    schema: int = SCHEMA
    fingerprint: str
    priced: str
    """Fingerprint of the price list."""
    limits: tuple[float, float] | None = None
    """The limits (s, MB) that stopped it, else None: with others it is tried again."""
    files: tuple[str, ...] = ()
    line: Line | None = None
    """None where no recording gave anything."""
    failures: tuple[tuple[str, str], ...] = ()
    """(recording, reason)."""


def fingerprint(item: Item, reports: Reports, manner: Manner, recordings: Sequence[str]) -> str:
    """Of everything the results are made from; `recordings` are the hashes of their contents."""
    made_from = {
        "schema": SCHEMA,
        "version": VERSION,
        "settings": repr(Settings()),
        "recordings": recordings,
        "names": item.names,
        "instrument": item.instrument,
        "layout": item.layout,
        "tuning": item.tuning,
        "missing": item.missing,
        "date": item.date,
        "said": item.said,
        "reports": reports,
        "manner": manner,
    }
    return hash_of(made_from)


def hash_of(value: object) -> str:
    """SHA-256 of a value, the same whenever it is the same."""
    return hashlib.sha256(msgspec.json.encode(value, order="deterministic")).hexdigest()


def to_json(record: Record) -> bytes:
    """The record as the content of its file."""
    return msgspec.json.format(msgspec.json.encode(record), indent=1) + b"\n"


def read_record(home: Path) -> Record | None:
    """The record of a finished instrument; None where there is none that can be relied on."""
    try:
        record = read_json(home / RECORD, Record)
        whole = record.schema == SCHEMA and all((home / name).is_file() for name in record.files)
    except (OSError, ValueError):  # msgspec's errors are ValueErrors, and so is a name with NUL in it
        return None
    return record if whole else None


def clear(home: Path, known: Record | None, record: Record) -> None:
    """Take the old record away, and the old files that the new ones do not replace."""
    (home / RECORD).unlink(missing_ok=True)
    for name in set(known.files if known else ()) - set(record.files):
        path = home / name
        if path.resolve().is_relative_to(home.resolve()):
            path.unlink(missing_ok=True)
