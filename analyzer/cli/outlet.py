"""Standard output and error where nobody reads them any more.

`harp-survey record list … | head -1` closes our output while there is more to say. As other programs do, this one then
ends without a word. The way is that of the Python documentation (module `signal`, "Note on SIGPIPE"): what is left goes
to the null device, else Python complains when it empties its buffers, and the exit code is 1. On Windows a closed pipe
may be told as EINVAL instead of EPIPE. A program started without any output at all (`>&-`, pythonw) has None for it;
it writes to the null device too.
"""

import contextlib
import errno
import os
import sys
from collections.abc import Callable
from pathlib import Path

CLOSED_CODE = 1
"""Exit code where the reader went away."""


def until_closed(run: Callable[[], int]) -> int:
    """What `run` returns; CLOSED_CODE where standard output or error was closed under way."""
    _give_outlets()
    try:
        try:
            return run()
        finally:  # argparse leaves by SystemExit, and has written its help by then
            sys.stdout.flush()
            sys.stderr.flush()
    except OSError as e:
        if not is_closed_pipe(e):
            raise
        _drop_the_rest()
        return CLOSED_CODE


def is_closed_pipe(error: OSError) -> bool:
    """Whether it says that the reader of a pipe went away."""
    if isinstance(error, BrokenPipeError):
        return True
    return os.name == "nt" and error.errno == errno.EINVAL and error.filename is None


def _give_outlets() -> None:
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, Path(os.devnull).open("w", encoding="utf-8"))  # noqa: SIM115 - as long as it runs


def _drop_the_rest() -> None:
    """Send what is still in the buffers to the null device."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError):  # a stream of another kind has no number
            os.dup2(nowhere, stream.fileno())
    os.close(nowhere)
