"""Workers: a process of one's own for the surveying, with a limit on its time and its memory.

Task: hand an order to `analyzer.worker` and have its answer, or the reason why there is none. The process serves one
order after another; one that passed a limit or died is replaced by a fresh one at the next.

Conventions: seconds of wall clock, megabytes (10^6 bytes) of resident memory, measured by psutil in the same way on
every system. The process has one thread for linear algebra and transforms: the batch has a process for every core.
"""

import contextlib
import os
import subprocess
import sys
import threading
from dataclasses import dataclass
from pathlib import Path

import msgspec

from analyzer.settings import BatchSettings
from analyzer.worker import Answer, Order, receive, send

_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
_OUR_PATH = os.pathsep.join(filter(None, [str(Path(__file__).parents[1]), os.environ.get("PYTHONPATH")]))
_MB = 1_000_000
_DEFAULTS = BatchSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What one instrument may take."""

    seconds: float
    mb: float


class Stopped(Exception):
    """There is no answer; the message says why, in a sentence."""

    def __init__(self, reason: str, *, by_limit: bool) -> None:
        super().__init__(reason)
        self.by_limit = by_limit


class Hand:
    """One such process."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None

    def ask(self, order: Order, limits: Limits, settings: BatchSettings = _DEFAULTS) -> Answer:
        """The answer to an order. Raises Stopped when the process passed a limit or died."""
        process = self._process = self._running()
        message = msgspec.msgpack.encode(order)
        done = threading.Event()
        over: list[str] = []
        watch = threading.Thread(target=_watch, args=(process, limits, settings, done, over), daemon=True)
        watch.start()
        try:
            answer = _exchange(process, message)
        except BaseException:  # an answer that nobody waited for must not be taken for the next order's
            self.close()
            raise
        finally:
            done.set()
            watch.join()
        if answer is None or over:
            self.close()
            why = over[0] if over else "The program was ended while it read it; please report this with the recording."
            raise Stopped(why, by_limit=bool(over))
        return msgspec.msgpack.decode(answer, type=Answer)

    def close(self) -> None:
        """End the process."""
        if self._process is not None:
            self._process.kill()
            for pipe in (self._process.stdin, self._process.stdout):
                if pipe is not None:
                    with contextlib.suppress(OSError):  # what it never read is lost with it
                        pipe.close()
            self._process.wait()
            self._process = None

    def _running(self) -> "subprocess.Popen[bytes]":
        if self._process is not None and self._process.poll() is None:
            return self._process
        self.close()
        return subprocess.Popen(
            [sys.executable, "-P", "-m", "analyzer.worker"],  # -P: no modules from the folder it is run in
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, **dict.fromkeys(_ONE_THREAD, "1"), "PYTHONPATH": _OUR_PATH},
            # An interrupt at the keyboard is the batch's to hear: a worker that it ended would look like one that fell.
            start_new_session=True,
            creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),
        )


def _exchange(process: "subprocess.Popen[bytes]", message: bytes) -> bytes | None:
    assert process.stdin is not None
    assert process.stdout is not None
    try:
        send(process.stdin, message)
        return receive(process.stdout)
    except OSError:  # it died before it had read the order
        return None


def _watch(
    process: "subprocess.Popen[bytes]", limits: Limits, s: BatchSettings, done: threading.Event, over: list[str]
) -> None:
    """Ends the process when it passes a limit, with the reason in `over`; looks more often the nearer a limit is."""
    import time

    import psutil

    end_s = time.monotonic() + limits.seconds
    try:
        seen = psutil.Process(process.pid)
        wait_s = s.watch_s
        while not done.wait(wait_s):
            left_s, left_mb = end_s - time.monotonic(), limits.mb - seen.memory_info().rss / _MB
            wait_s = max(s.watch_s, min(s.watch_most_s, left_s, left_mb / s.grows_mb_per_s))
            if left_s < 0:
                over.append(f"It took longer than {limits.seconds:g} s (--limit-seconds); cut out the harp's part.")
            elif left_mb < 0:
                over.append(f"It took more than {limits.mb:g} MB of memory (--limit-mb); cut out the harp's part.")
            if over:
                process.kill()
                return
    except psutil.Error:  # it is gone, and whoever waits for its answer sees that
        return
