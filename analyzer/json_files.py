"""JSON files, and others of text, as they come from a disk: bounded in size, and their faults said in one way.

The readers of the several kinds of file word the sentence, but for that of a later version's file, which is one for
all. Here it is only seen to that there are two errors to word: OSError where the file cannot be read (or is too large
to be ours), msgspec.DecodeError where it is not what was meant.
"""

import errno
import stat
from collections.abc import Mapping
from pathlib import Path
from typing import TypeVar

import msgspec

from analyzer.errors import UnusableInput
from analyzer.settings import FileSettings

_T = TypeVar("_T")
_DEFAULTS = FileSettings()


def read_json(path: Path, kind: type[_T], settings: FileSettings = _DEFAULTS) -> _T:
    """The file's content as that type. Raises OSError, msgspec.DecodeError (msgspec.ValidationError among them)."""
    return decode_json(read_bounded(path, settings.json_limit_bytes), kind)


def read_bounded(path: Path, limit_bytes: int = _DEFAULTS.json_limit_bytes) -> bytes:
    """The bytes of a file that is no larger than any of ours. Raises OSError, with EFBIG where it is.

    What is no file is not opened: a pipe that nobody writes to would be waited at without end.
    """
    try:
        kind = path.stat().st_mode
        if not stat.S_ISREG(kind) and not stat.S_ISDIR(kind):
            raise OSError(errno.EINVAL, "not an ordinary file")
        with path.open("rb") as file:
            data = file.read(limit_bytes + 1)
    except ValueError as e:  # a name with NUL in it
        raise OSError(errno.EINVAL, "no such name") from e
    if len(data) > limit_bytes:
        raise OSError(errno.EFBIG, f"larger than {limit_bytes} bytes")
    return data


def decode_json(data: bytes, kind: type[_T]) -> _T:
    """JSON text as that type. Raises msgspec.DecodeError, also for bad UTF-8 and for brackets without end."""
    try:
        return msgspec.json.decode(data, type=kind)
    except UnicodeDecodeError as e:
        raise msgspec.DecodeError("not UTF-8 text") from e
    except RecursionError as e:
        raise msgspec.DecodeError("nested too deeply") from e


def check_schema(table: Mapping[str, object], newest: int, path: Path) -> None:
    """Raises UnusableInput for a schema later than the newest known, msgspec.ValidationError below the first."""
    schema = table.get("schema")
    if isinstance(schema, int) and schema > newest:
        raise UnusableInput(
            f"{path}: written by a newer version (schema {schema}, this program reads up to {newest}); install the"
            " newer harp-string-survey."
        )
    if isinstance(schema, int) and schema < 1:
        raise msgspec.ValidationError(f"there is no schema {schema}")
