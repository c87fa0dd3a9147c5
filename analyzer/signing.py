"""Signed off: which files belong together, said by whom.

Task: `signed.json` beside a report names the technician, the day and the instrument, and the SHA-256 (FIPS 180-4) of
every file of the report, of the surveys it was made from and of their recordings; `verify` checks all that lies there.

Known limits: this shows that files belong together and were not altered since. It does not prove who wrote the name:
anyone can make such a file. Who needs proof keeps the list's own SHA-256, which `verify` prints, in another's hands.
"""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

import msgspec

from analyzer.errors import UnusableInput
from analyzer.json_files import check_schema, decode_json, read_bounded
from analyzer.survey import Survey

SIGNED = "signed.json"
_RECORD = "record.json"
"""What a harp's record has instead (`record`)."""
SCHEMA = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Signed:
    """What was signed off."""

    schema: int = SCHEMA
    technician: str
    """Empty where nobody signed: then the file only says what belongs together."""
    date: str
    instrument: str
    files: dict[str, str]
    """Name within the folder, with / for subfolders -> SHA-256."""
    surveys: dict[str, str] = field(default_factory=dict)
    """SHA-256 -> name of the survey files that the report was made from."""
    recordings: dict[str, str] = field(default_factory=dict)
    """SHA-256 -> name of the recordings they were made from."""
    named: str = ""
    """The technician whom whoever made the files named, without that being a signature."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """What a check found."""

    signed: Signed
    sha256: str
    """Of signed.json itself."""
    matching: tuple[str, ...]
    """What is as it was signed."""
    problems: tuple[str, ...]
    """A sentence for each that is not."""
    beside: tuple[str, ...]
    """Files of the folder that are not part of what was signed."""


def sha256(content: bytes | str) -> str:
    """Of a file's content; text as UTF-8."""
    return hashlib.sha256(content.encode("utf-8") if isinstance(content, str) else content).hexdigest()


def sha256_of_file(path: Path) -> str:
    """Of a file however long; raises UnusableInput where it cannot be read."""
    if not path.is_file():
        raise UnusableInput(f"{path}: there is no such file; name a recording or a survey.json.")
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as e:
        raise UnusableInput(f"{path}: cannot be read ({e.strerror}).") from e


def sign(
    files: Mapping[str, bytes | str],
    *,
    technician: str = "",
    named: str = "",
    date: str = "",
    instrument: str = "",
    surveys: Mapping[str, str] | None = None,
    recordings: Mapping[str, str] | None = None,
) -> bytes:
    """The content of `signed.json` for these files (name -> content).

    `surveys`, `recordings`: SHA-256 -> name of what the files were made from.
    """
    signed = Signed(
        technician=technician,
        named=named,
        date=date,
        instrument=instrument,
        files={name: sha256(content) for name, content in files.items()},
        surveys=dict(surveys or {}),
        recordings=dict(recordings or {}),
    )
    return msgspec.json.format(msgspec.json.encode(signed), indent=1) + b"\n"


def recordings_of(surveys: Sequence[Survey]) -> dict[str, str]:
    """SHA-256 -> name of every recording that the surveys were made from."""
    return {info.sha256: info.name for survey in surveys for info in survey.recordings}


def listed_before(folder: Path) -> Signed:
    """What the folder's `signed.json` already lists of surveys and recordings behind it; empty where there is none."""
    try:
        return decode_json(read_bounded(folder / SIGNED), Signed)
    except (OSError, msgspec.MsgspecError):
        return Signed(technician="", date="", instrument="", files={})


def check_unsigned(folder: Path) -> None:
    """Raises UnusableInput where somebody signed what lies in the folder, with it alone or with one that it lies in:
    new files would undo that unseen."""
    here = folder.resolve()
    for home in (here, *here.parents):
        before = listed_before(home)
        inside = [name for name in before.files if here == home or (home / name).is_relative_to(here)]
        if before.technician and inside:
            raise _signed(folder if here == home else home, before.technician)


def signed_among(folder: Path, files: Mapping[str, bytes | str]) -> tuple[Path, str] | None:
    """(Folder, who signed it) where these files, new in `folder`, would alter what lies in a signed one; else None.

    `folder` may itself lie in the one that was signed.
    """
    here = folder.resolve()
    for home in (here, *here.parents):
        before = listed_before(home)
        listed = {(here / name).relative_to(home).as_posix(): sha256(content) for name, content in files.items()}
        if before.technician and any(before.files.get(name, new) != new for name, new in listed.items()):
            return home, before.technician
    return None


def check_unsigned_among(folder: Path, files: Mapping[str, bytes | str]) -> None:
    """Raises UnusableInput where these files, new in `folder`, would alter what somebody signed."""
    if signed := signed_among(folder, files):
        raise _signed(*signed)


def _signed(folder: Path, technician: str) -> UnusableInput:
    return UnusableInput(
        f"{folder}: signed by {technician}, and new files would undo that; name another folder with --out, or take"
        f" {SIGNED} out of this one first."
    )


def folder_files(folder: Path) -> dict[str, bytes]:
    """Every file in the folder but signed.json and hidden ones, name -> content."""
    try:
        paths = sorted(p for p in folder.rglob("*") if p.is_file() and not p.is_symlink())
        names = {p.relative_to(folder).as_posix(): p for p in paths}
        return {n: p.read_bytes() for n, p in names.items() if n != SIGNED and not _hidden(n)}
    except OSError as e:
        raise UnusableInput(f"{folder}: cannot be read ({e.strerror}); name the folder of a report.") from e


def verify(folder: Path, others: Sequence[Path] = ()) -> Verified:
    """Check a report's folder against its signed.json, and `others` (recordings, surveys) against what it lists.

    Raises UnusableInput when there is no signed.json that can be read.
    """
    try:
        content = read_bounded(folder / SIGNED)
        head = decode_json(content, dict)
        check_schema(head, SCHEMA, folder / SIGNED)
        signed = msgspec.convert(head, Signed)
    except OSError as e:
        if (folder / _RECORD).is_file():
            raise UnusableInput(f"{folder}: a harp's record; 'harp-survey record show' checks its files.") from e
        raise UnusableInput(
            f"{folder}: there is no {SIGNED} that could be read, so nothing to check by; 'harp-survey sign' makes one."
        ) from e
    except msgspec.MsgspecError as e:
        raise UnusableInput(f"{folder / SIGNED}: not a list of what was signed ({e}).") from e
    here = folder_files(folder)
    matching, problems = [], []
    for name, known in signed.files.items():
        if PurePosixPath(name).is_absolute() or ".." in PurePosixPath(name).parts or name not in here:
            problems.append(f"{name}: is missing from the folder.")
        elif sha256(here[name]) != known:
            problems.append(f"{name}: was altered since it was listed.")
        else:
            matching.append(name)
    listed = {**signed.surveys, **signed.recordings}
    for path in others:
        found = sha256_of_file(path)
        if found in listed or found in signed.files.values():
            matching.append(path.name)
        else:
            problems.append(f"{path.name}: is none of the recordings or surveys that this report was made from.")
    return Verified(
        signed=signed,
        sha256=sha256(content),
        matching=tuple(matching),
        problems=tuple(problems),
        beside=tuple(name for name in here if name not in signed.files),
    )


def _hidden(name: str) -> bool:
    return any(part.startswith(".") for part in PurePosixPath(name).parts)
