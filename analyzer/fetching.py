"""Fetching: a recording as a file here, wherever it lies.

A path is taken as it is, from storage that all workers see; what lies at an fsspec address (`s3://…`, `https://…`) is
copied first, and the copy goes when it is no longer needed.
"""

import contextlib
import hashlib
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import unquote, urlsplit

from analyzer.intake import is_address, one_line
from analyzer.settings import BatchSettings


class Unread(Exception):
    """A recording that is not there to be read now; the message is the reason."""


@contextlib.contextmanager
def local(recording: str, limit_s: float, settings: BatchSettings) -> Iterator[Path]:
    """The recording as a file here: itself, or a copy of what lies at its address.

    Raises Unread, also where copying takes longer than `limit_s`.
    """
    if not is_address(recording):
        yield Path(recording)
        return
    try:
        import fsspec
    except ImportError as e:
        raise Unread("An address needs more packages: pip install 'harp-string-survey[cluster]'.") from e
    with tempfile.TemporaryDirectory() as folder:
        name = one_line(unquote(urlsplit(recording).path).replace("\\", "/").rpartition("/")[2])
        end_s = time.monotonic() + limit_s
        copy = Path(folder) / (name[-settings.fetch_name_n :].lstrip(".") or "recording")
        try:
            with fsspec.open(recording, "rb") as source, copy.open("wb") as target:
                while block := source.read(settings.fetch_block_bytes):
                    if target.tell() > settings.fetch_limit_bytes:
                        raise Unread("It is larger than any recording; check the address.")
                    if time.monotonic() > end_s:
                        raise Unread(f"It took longer than {limit_s:g} s (--limit-seconds); cut out the harp's part.")
                    target.write(block)
        except (OSError, ValueError, ImportError) as e:
            raise Unread(f"It cannot be fetched ({type(e).__name__}); check the address and the network.") from e
        yield copy


def content_sha256(path: Path) -> str:
    """Of a file's content. Raises Unread."""
    try:
        if not path.is_file():  # a pipe would be waited at without end
            raise OSError
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except (OSError, ValueError) as e:
        raise Unread("It cannot be opened; check that it is there and may be read.") from e
