"""Leaving files in a folder whole or not at all.

The whole set is written to a temporary folder on the same file system first; only when every byte of it is
on the disk is it moved into place, by renames, which cannot run out of room. Should a rename fail halfway,
those already done are undone: what was there before is there again. Other files of the folder are never
touched. A program that is killed while writing leaves that temporary folder; `sweep` takes it away. Files are
written several at a time, because waiting for the disk takes the longest, and it can wait for all of them at once.
"""

import contextlib
import errno
import hashlib
import os
import shutil
import tempfile
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path, PurePosixPath

from analyzer.errors import UnusableInput
from analyzer.settings import FileSettings

_DEFAULTS = FileSettings()

NOT_PERMITTED = (
    "writing is not permitted there, or a file is open in another program; close it or choose another folder"
)

REASONS = {
    errno.ENOSPC: "the disk is full; make room or choose another folder",
    errno.EDQUOT: "your share of the disk is full; make room or choose another folder",
    errno.EACCES: NOT_PERMITTED,
    errno.EPERM: NOT_PERMITTED,
    errno.EROFS: "that disk can only be read; choose another folder",
    errno.ENOTDIR: "a part of that path is a file, not a folder; choose another folder",
    errno.EEXIST: "there is a file of that name; choose another folder",
    errno.ENAMETOOLONG: "that name is too long; choose a shorter one",
}


def write_files(folder: Path, files: Mapping[str, bytes | str], settings: FileSettings = _DEFAULTS) -> None:
    """Write `files` (name within the folder, with / for subfolders -> content; text as UTF-8) to `folder`.

    The folder is made if need be. Raises UnusableInput, with everything as it was, when that is not possible.
    """
    target = Path(os.path.realpath(folder))
    missing: list[Path] = []
    try:
        missing = [path for path in (target, *target.parents) if not path.exists()]
        if target.exists() and not target.is_dir():
            raise FileExistsError(errno.EEXIST, "not a folder")
        home = target if target.exists() else target.parent
        home.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=_prefix(target), dir=home) as temporary:
            fresh = Path(temporary) / "new"
            fresh.mkdir()  # made afresh, because the temporary folder itself is closed to everyone else
            with ThreadPoolExecutor(settings.write_at_once_n) as pool:
                list(pool.map(_write, [_inside(fresh, name) for name in files], files.values()))
            if target.exists():
                _move_in(fresh, target, list(files), Path(temporary) / "old")
            else:
                fresh.rename(target)
    except OSError as e:
        _remove_empty(missing)
        reason = REASONS.get(e.errno or 0, e.strerror or str(e))
        raise UnusableInput(f"{folder}: the results cannot be written: {reason}.") from e


def sweep(folder: Path) -> None:
    """Remove what programs left that died while writing to `folder`; only where nobody else writes to it now."""
    target = Path(os.path.realpath(folder))
    for home in (target, target.parent):
        for path in home.glob(f"{_prefix(target)}*"):
            shutil.rmtree(path, ignore_errors=True)


def _prefix(target: Path) -> str:
    """What the temporary folders of those who write to that folder begin with."""
    return f".harp-survey-{hashlib.sha256(os.fsencode(target.name)).hexdigest()[:16]}-"


def _inside(folder: Path, name: str) -> Path:
    return folder.joinpath(*PurePosixPath(name).parts)


def _write(path: Path, content: bytes | str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("xb") as file:
        file.write(content.encode("utf-8") if isinstance(content, str) else content)
        file.flush()
        os.fsync(file.fileno())


def _move_in(fresh: Path, target: Path, names: list[str], old: Path) -> None:
    """Move the named files from `fresh` to `target`, keeping what they replace in `old` until all are there."""
    made: list[Path] = []
    kept: list[tuple[Path, Path]] = []
    placed: list[Path] = []
    try:
        for name in names:
            place, keep = _inside(target, name), _inside(old, name)
            made += [p for p in place.parents if not p.exists()]
            place.parent.mkdir(parents=True, exist_ok=True)
            if place.exists():
                keep.parent.mkdir(parents=True, exist_ok=True)
                kept.append((keep, place))
                place.replace(keep)
            placed.append(place)
            _inside(fresh, name).replace(place)
    except BaseException:  # an interrupt at the keyboard must not leave half a set either
        for place in placed:
            place.unlink(missing_ok=True)
        for keep, place in kept:
            if keep.exists():
                keep.replace(place)
        _remove_empty(made)
        raise


def _remove_empty(folders: list[Path]) -> None:
    """Remove those of the folders, innermost first, that are there and empty."""
    for folder in sorted(folders, key=lambda path: len(path.parts), reverse=True):
        with contextlib.suppress(OSError):
            folder.rmdir()
