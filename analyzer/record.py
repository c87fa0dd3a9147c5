"""One harp's record: a folder that a person can copy, mail and back up.

    record.json              what the harp is: instrument, serial number, asset number
    entries/2026-03-01-001/  one entry a visit or recording
        entry.json           who, where, what was done, weather, photos by file name, hashes of what lies beside it
        survey/              the survey's folder as `analyze` left it (report, clips and plan with it), if there is one

All of it is plain files; `schema` in each JSON file counts its form, and older forms are read for ever (`_MIGRATIONS`).

An entry is built in a hidden folder beside `entries`, forced to the disk, and moved into place by one rename: it is
there whole or not at all, whenever the program is stopped. There is no list of entries to be torn: the folders are the
list. A lock that the system lets go when a program dies keeps two programs from writing at once.
"""

import contextlib
import hashlib
import os
import re
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from analyzer.errors import UnusableInput
from analyzer.json_files import check_schema, read_json
from analyzer.speech import say
from analyzer.survey import Survey, read_survey
from analyzer.writing import REASONS

SCHEMA = 1
ENTRIES, ABOUT, ENTRY, SURVEY = "entries", "record.json", "entry.json", "survey"
_INCOMING = ".incoming-"
_LOCK, _LOCK_WAIT_S = ".lock", 20.0
_ID = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}-[0-9]{3,}")

_T = TypeVar("_T")

_MIGRATIONS: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {}
"""Schema -> what turns a JSON object of that schema into one of the next; none is needed yet, as 1 is the first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class About:
    """What the harp is; empty where nobody said."""

    schema: int = SCHEMA
    instrument: str = ""
    """Maker, model, or what people call it."""
    serial: str = ""
    asset: str = ""
    """The owner's own number for it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One visit or recording."""

    schema: int = SCHEMA
    id: str = ""
    """`2026-03-01-001`: its day and a running number; given by the record."""
    date: str
    """ISO 8601 day."""
    who: str = ""
    where: str = ""
    done: str = ""
    """What was done: "two strings fitted, tuned"."""
    humidity_percent: float | None = None
    """Relative humidity, %."""
    temperature_c: float | None = None
    photos: tuple[str, ...] = ()
    """File names only; the photos stay where they are."""
    title: str = ""
    """Of the survey."""
    recordings: dict[str, str] = field(default_factory=dict)
    """Name -> SHA-256 of the recordings the survey was made from; more of one name are `NAME (2)`, …"""
    files: dict[str, str] = field(default_factory=dict)
    """Name within `survey/` -> SHA-256."""


def add(folder: Path, entry: Entry, *, survey: Path | None = None, about: About | None = None) -> Entry:
    """Put an entry into the record, which is begun if need be; returns it with its number.

    `survey`: a folder that analyze wrote, or its survey.json. `about`: what is newly known of the harp, empty where
    nothing is. Raises UnusableInput when the survey cannot be read, is in the record already, or the folder cannot be
    written; the record is then as it was.
    """
    with _written(folder), _locked(folder):
        _sweep(folder)
        known = read_about(folder)
        there = entries(folder)
        new_about = _joined(known, about or known)
        with tempfile.TemporaryDirectory(prefix=_INCOMING, dir=folder, ignore_cleanup_errors=True) as temporary:
            fresh = Path(temporary) / "new"
            fresh.mkdir()
            if survey is not None:
                entry = _with_survey(entry, survey, fresh / SURVEY)
                twin = next((e for e in there if e.files.get("survey.json") == entry.files["survey.json"]), None)
                if twin:
                    raise UnusableInput(f"{survey}: this survey is in the record already, as {twin.id}.")
            entry = replace(entry, id=_next_id(entry.date, there))
            _put(fresh / ENTRY, _json(entry))
            if new_about != known or not (folder / ABOUT).exists():
                _put(Path(temporary) / ABOUT, _json(new_about))
                (Path(temporary) / ABOUT).replace(folder / ABOUT)
            (folder / ENTRIES).mkdir(exist_ok=True)
            fresh.rename(folder / ENTRIES / entry.id)
            _settle(folder / ENTRIES)
            _settle(folder)
    return entry


def entries(folder: Path) -> tuple[Entry, ...]:
    """All entries, oldest first; none where there is no record yet.

    Raises UnusableInput, naming the file, where one cannot be read.
    """
    home = folder / ENTRIES
    found = [_read(path / ENTRY, Entry) for path in home.iterdir() if _ID.fullmatch(path.name)] if home.is_dir() else []
    return tuple(sorted(found, key=lambda e: (e.date, e.id)))


def find(folder: Path, entry_id: str) -> Entry:
    """The entry of that number. Raises UnusableInput when there is none."""
    for entry in entries(folder):
        if entry.id == entry_id:
            return entry
    known = ", ".join(e.id for e in entries(folder)) or "none"
    raise UnusableInput(f"{folder}: no entry {entry_id!r}; there are: {known}.")


def survey_folder(folder: Path, entry: Entry) -> Path | None:
    """Where the entry's survey lies; None where it has none."""
    return folder / ENTRIES / entry.id / SURVEY if entry.files else None


def is_record(folder: Path) -> bool:
    """Whether a folder is a harp's record."""
    return (folder / ABOUT).is_file()


def read_about(folder: Path) -> About:
    """What the harp is; all empty where there is no record yet."""
    return _read(folder / ABOUT, About) if (folder / ABOUT).exists() else About()


def damaged(folder: Path) -> tuple[str, ...]:
    """A sentence in the language of the moment for each file of the record that is missing or altered."""
    said = []
    for entry in entries(folder):
        home = folder / ENTRIES / entry.id / SURVEY
        for name, sha256 in entry.files.items():
            path = home / name
            if not path.is_file():
                said.append(say("{entry}: {file} is missing.").format(entry=entry.id, file=name))
            elif file_sha256(path) != sha256:
                said.append(say("{entry}: {file} is not what was put in.").format(entry=entry.id, file=name))
    return tuple(said)


def file_sha256(path: Path) -> str:
    """SHA-256 of a file, as hexadecimal digits."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _with_survey(entry: Entry, source: Path, target: Path) -> Entry:
    """The entry with what it tells of its survey, whose files are copied to `target`."""
    survey = read_survey(source)
    home = source if source.is_dir() else source.parent
    names = sorted(p.relative_to(home) for p in home.rglob("*")) if source.is_dir() else [Path(source.name)]
    files = {}
    for name in names:
        path = home / name
        if path.is_symlink() or not path.is_file() or any(part.startswith(".") for part in name.parts):
            continue
        kept = "survey.json" if path == source else name.as_posix()
        _put(target / kept, path.read_bytes())
        files[kept] = file_sha256(target / kept)
    return replace(
        entry,
        date=entry.date or survey.date,
        title=survey.title,
        recordings=_hashes(survey),
        files=files,
    )


def _hashes(survey: Survey) -> dict[str, str]:
    """Name -> SHA-256 of every recording; recorders give files of different folders one name, which are numbered."""
    found: dict[str, str] = {}
    for k, info in enumerate(survey.recordings):
        alike_n = sum(before.name == info.name for before in survey.recordings[:k])
        found[f"{info.name} ({alike_n + 1})" if alike_n else info.name] = info.sha256
    return found


def _joined(known: About, newly: About) -> About:
    return About(
        instrument=newly.instrument or known.instrument,
        serial=newly.serial or known.serial,
        asset=newly.asset or known.asset,
    )


def _next_id(date: str, there: tuple[Entry, ...]) -> str:
    if not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", date):
        raise UnusableInput(f"an entry needs its day, as in --date 2026-03-01 (got {date!r}).")
    numbers = [int(e.id.rsplit("-", 1)[1]) for e in there if e.date == date]
    return f"{date}-{max(numbers, default=0) + 1:03d}"


def _json(value: About | Entry) -> bytes:
    return msgspec.json.format(msgspec.json.encode(value), indent=1) + b"\n"


def _read(path: Path, kind: type[_T]) -> _T:
    """A JSON file of the record, in whatever schema it was written."""
    try:
        return msgspec.convert(_migrated(read_json(path, dict), path), kind)
    except OSError as e:
        raise UnusableInput(f"{path}: cannot be read ({e.strerror}); restore it from a copy of the record.") from e
    except msgspec.MsgspecError as e:
        raise UnusableInput(f"{path}: not a file of a harp's record ({e}); restore it from a copy.") from e


def _migrated(values: dict[str, Any], path: Path) -> dict[str, Any]:
    """The JSON object in the present schema."""
    schema = values.get("schema")
    if not isinstance(schema, int) or schema < 1:
        raise UnusableInput(f"{path}: does not say its schema; restore it from a copy of the record.")
    check_schema(values, SCHEMA, path)
    for step in range(schema, SCHEMA):
        values = {**_MIGRATIONS[step](values), "schema": step + 1}
    return values


def _put(path: Path, content: bytes) -> None:
    """Write a new file and force it to the disk."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("xb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _settle(folder: Path) -> None:
    """Force a folder's list of names to the disk, where the system lets one."""
    if sys.platform == "win32":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _sweep(folder: Path) -> None:
    """Remove what programs left that died while writing; safe under the lock, as nobody else writes."""
    for path in folder.glob(f"{_INCOMING}*"):
        shutil.rmtree(path, ignore_errors=True)


@contextlib.contextmanager
def _locked(folder: Path) -> Iterator[None]:
    import filelock

    try:
        with filelock.FileLock(str(folder / _LOCK), timeout=_LOCK_WAIT_S):
            yield
    except filelock.Timeout as e:
        raise UnusableInput(f"{folder}: another program is writing to this record; try again when it is done.") from e


@contextlib.contextmanager
def _written(folder: Path) -> Iterator[None]:
    """Makes the folder; turns the system's errors into sentences."""
    try:
        if folder.exists() and not is_record(folder) and any(not p.name.startswith(".") for p in folder.iterdir()):
            unfinished = {p.name for p in folder.iterdir()} <= {ENTRIES, _LOCK}
            if not unfinished:
                raise UnusableInput(f"{folder}: has files in it but is no harp's record; name a new or empty folder.")
        folder.mkdir(parents=True, exist_ok=True)
        yield
    except OSError as e:
        reason = REASONS.get(e.errno or 0, e.strerror or str(e))
        raise UnusableInput(f"{folder}: the record cannot be written: {reason}.") from e
