"""Collection: a batch of instruments surveyed in parallel, and gone on with where it was stopped.

Task: Items -> for each its results in `instruments/KEY/` and an Outcome; then the tables are made from the outcomes.

An instrument is finished when `batch.json` lies in its folder with the fingerprint of what it was made from: the
recordings' contents, layout, tuning and all that was said, every setting, the program's version and the kind of
report. It is the last file to come into the folder and the first to go, so that a batch killed at any moment finds
finished work finished and unfinished work not begun. A price list only changes an instrument's line, which is then
made again from its survey.

Two batches on one folder share the work: an instrument is locked while one is at it, by a lock that the system lets go
when a program dies; the other goes on with the next and comes back to it last.

Every instrument is surveyed in a process of its own (`workers`) that can be stopped; joblib deals the instruments out,
to processes here (loky) or to the workers of a Dask cluster, by the same call. Recordings are read by the worker.
"""

import atexit
import contextlib
import hashlib
import os
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

import msgspec

from analyzer.errors import UnusableInput
from analyzer.intake import Item, is_address, one_line
from analyzer.json_files import read_json
from analyzer.prices import Prices
from analyzer.settings import BatchSettings, Settings
from analyzer.speech import PLAIN, Manner
from analyzer.triage import Line
from analyzer.version import VERSION
from analyzer.worker import Answer, Order, Reports
from analyzer.workers import Hand, Limits, Stopped
from analyzer.writing import REASONS, sweep, write_files

RECORD, INSTRUMENTS, LOCKS = "batch.json", "instruments", ".locks"
SCHEMA = 1
_DEFAULTS = BatchSettings()
_BLOCK_BYTES = 1 << 20
_CONNECT_S = 10
_NAME_N = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Errand:
    """What is the same for every instrument of a batch."""

    folder: Path
    reports: Reports
    prices: dict[str, Prices]
    """Layout's name -> price list; empty without one."""
    limits: Limits
    manner: Manner = PLAIN
    """How the reports speak."""
    wait: bool = False
    """Whether to wait for another batch that is at the instrument."""
    batch_pid: int = 0
    """The process whose workers on this machine end with it; 0 for none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """`batch.json`: what is known of an instrument when it is finished."""

    schema: int
    fingerprint: str
    priced: str
    """Fingerprint of the price list."""
    limits: tuple[float, float] | None
    """The limits (s, MB) that stopped it, else None: with others it is tried again."""
    files: tuple[str, ...]
    line: Line | None
    """None where no recording gave anything."""
    failures: tuple[tuple[str, str], ...]
    """(recording, reason)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What a worker gives back: small."""

    key: str
    record: Record | None
    """None where another batch is at it."""
    found: bool
    """Finished before, and not done again."""


def survey_all(
    items: Sequence[Item],
    errand: Errand,
    *,
    workers_n: int,
    dask: str | None = None,
    tell: Callable[[int, int], None] = lambda done_n, all_n: None,
) -> dict[str, Outcome]:
    """Every item's outcome by its key. `tell` is told how many of how many are done.

    Raises UnusableInput when results cannot be written (disk full, no permission); what is finished stays.
    """
    outcomes: dict[str, Outcome] = {}
    for wait in (False, True):
        left = sorted((item for item in items if item.key not in outcomes), key=_size, reverse=True)
        turn = replace(errand, wait=wait, batch_pid=os.getpid() if dask is None else 0)
        for outcome in _dealt(left, turn, workers_n, dask):
            if outcome.record is not None:
                outcomes[outcome.key] = outcome
                tell(len(outcomes), len(items))
    return outcomes


def _size(item: Item) -> int:
    """Bytes of its recordings that lie here: the longest go first, so that no worker is left alone with one at last."""
    size = 0
    for recording in item.recordings:
        with contextlib.suppress(OSError, ValueError):
            size += Path(recording).stat().st_size
    return size


def _dealt(items: Sequence[Item], errand: Errand, workers_n: int, dask: str | None) -> Iterator[Outcome]:
    """Outcomes as they come, from this machine's processes or from a Dask cluster's."""
    if not items:
        return
    from joblib import Parallel, delayed, parallel_config

    with contextlib.ExitStack() as stack:
        if dask is not None:
            stack.enter_context(_dask_client(dask))
            stack.enter_context(parallel_config(backend="dask"))
            deal = Parallel(batch_size=1, return_as="generator_unordered")
        else:
            stack.enter_context(parallel_config(backend="loky", inner_max_num_threads=1))
            deal = Parallel(n_jobs=min(workers_n, len(items)), batch_size=1, return_as="generator_unordered")
        yield from deal(delayed(survey_one)(item, errand) for item in items)


def _dask_client(address: str) -> "contextlib.AbstractContextManager[object]":
    try:
        from distributed import Client
    except ImportError as e:
        raise UnusableInput("--dask needs more packages: pip install 'harp-string-survey[cluster]'.") from e
    try:
        client: Any = Client
        return client(address, timeout=_CONNECT_S)  # type: ignore[no-any-return]
    except (OSError, ValueError, TimeoutError) as e:
        raise UnusableInput(f"{address}: no Dask scheduler answers there; start one with: dask scheduler.") from e


_mine = threading.local()
"""The worker's own Hand, kept from one instrument to the next."""


def survey_one(item: Item, errand: Errand, settings: BatchSettings = _DEFAULTS) -> Outcome:
    """Survey one instrument in this worker, unless it is finished already. Raises UnusableInput as `survey_all`."""
    import filelock

    _end_with(errand.batch_pid, settings.orphan_s)
    home = errand.folder / INSTRUMENTS / item.key
    lock_file = errand.folder / INSTRUMENTS / LOCKS / f"{item.key}.lock"
    try:
        lock_file.parent.mkdir(parents=True, exist_ok=True)
        with filelock.FileLock(str(lock_file), timeout=settings.lock_wait_s if errand.wait else 0):
            sweep(home)
            return _survey_locked(item, errand, home, settings)
    except filelock.Timeout:
        return Outcome(key=item.key, record=None, found=False)
    except OSError as e:
        reason = REASONS.get(e.errno or 0, e.strerror or str(e))
        raise UnusableInput(f"{errand.folder}: the results cannot be written: {reason}.") from e


def _end_with(batch_pid: int, every_s: float) -> None:
    """Sees to it that this worker ends when the batch that started it does, even if that was killed."""
    if batch_pid in (0, os.getpid()) or hasattr(_mine, "batch"):
        return
    import psutil

    try:
        _mine.batch = psutil.Process(batch_pid)
    except psutil.NoSuchProcess:
        os._exit(1)

    def watch(batch: psutil.Process) -> None:
        while batch.is_running():
            time.sleep(every_s)
        os._exit(1)

    threading.Thread(target=watch, args=(_mine.batch,), daemon=True).start()


def _survey_locked(item: Item, errand: Errand, home: Path, settings: BatchSettings) -> Outcome:
    prices = errand.prices.get(item.layout.name)
    priced = _sha256(msgspec.json.encode(prices, order="deterministic")) if prices else ""
    with contextlib.ExitStack() as stack:
        try:
            paths = [stack.enter_context(_local(recording, settings)) for recording in item.recordings]
            fingerprint = _fingerprint(item, errand, [_file_sha256(path) for path in paths])
        except _Unread as e:
            failures = tuple((name, str(e)) for name in item.names)
            return Outcome(key=item.key, record=_record("", priced, None, failures=failures), found=False)
        known = _read_record(home)
        if known is not None and known.fingerprint == fingerprint and known.limits in (None, _pair(errand.limits)):
            if known.line is None or known.priced == priced:
                return Outcome(key=item.key, record=known, found=True)
            survey = os.fsencode(home / "survey.json")
            answer, limits = _asked(item, errand, paths, prices, survey)
            if answer.line is not None:
                record = _record(fingerprint, priced, None, known.files, answer.line, known.failures)
                write_files(home, {RECORD: _json(record)})
                return Outcome(key=item.key, record=record, found=True)
        answer, limits = _asked(item, errand, paths, prices, b"")
    record = _record(fingerprint, priced, limits, tuple(sorted(answer.files)), answer.line, answer.failures)
    _clear(home, known, record)
    write_files(home, {**answer.files, RECORD: _json(record)})
    return Outcome(key=item.key, record=record, found=False)


def _asked(
    item: Item, errand: Errand, paths: Sequence[Path], prices: Prices | None, survey: bytes
) -> tuple[Answer, tuple[float, float] | None]:
    """The answer of this worker's own process, and the limits where they stopped it."""
    if not hasattr(_mine, "hand"):
        _mine.hand = Hand()
        atexit.register(_mine.hand.close)
    order = Order(
        item=replace(item, recordings=()),  # the paths are in its place
        paths=tuple(map(os.fsencode, paths)),
        reports=errand.reports,
        manner=errand.manner,
        prices=prices,
        survey=survey,
    )
    try:
        return _mine.hand.ask(order, errand.limits), None
    except Stopped as e:
        failures = tuple((name, str(e)) for name in item.names)
        return Answer(line=None, files={}, failures=failures), _pair(errand.limits) if e.by_limit else None


def _record(
    fingerprint: str,
    priced: str,
    limits: tuple[float, float] | None,
    files: tuple[str, ...] = (),
    line: Line | None = None,
    failures: tuple[tuple[str, str], ...] = (),
) -> Record:
    return Record(
        schema=SCHEMA,
        fingerprint=fingerprint,
        priced=priced,
        limits=limits,
        files=files,
        line=line,
        failures=failures,
    )


def _pair(limits: Limits) -> tuple[float, float]:
    return limits.seconds, limits.mb


class _Unread(Exception):
    """A recording that is not there to be read now; the message is the reason."""


@contextlib.contextmanager
def _local(recording: str, settings: BatchSettings) -> Iterator[Path]:
    """The recording as a file here: itself, or a copy of what lies at its address."""
    if not is_address(recording):
        yield Path(recording)
        return
    try:
        import fsspec
    except ImportError as e:
        raise _Unread("An address needs more packages: pip install 'harp-string-survey[cluster]'.") from e
    with tempfile.TemporaryDirectory() as folder:
        name = one_line(unquote(urlsplit(recording).path).replace("\\", "/").rpartition("/")[2])
        copy = Path(folder) / (name[-_NAME_N:].lstrip(".") or "recording")
        try:
            with fsspec.open(recording, "rb") as source, copy.open("wb") as target:
                while block := source.read(_BLOCK_BYTES):
                    if target.tell() > settings.fetch_limit_bytes:
                        raise _Unread("It is larger than any recording; check the address.")
                    target.write(block)
        except (OSError, ValueError, ImportError) as e:
            raise _Unread(f"It cannot be fetched ({type(e).__name__}); check the address and the network.") from e
        yield copy


def _fingerprint(item: Item, errand: Errand, recordings: Sequence[str]) -> str:
    """Of everything the results are made from."""
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
        "reports": errand.reports,
        "manner": errand.manner,
    }
    return _sha256(msgspec.json.encode(made_from, order="deterministic"))


def _file_sha256(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except (OSError, ValueError) as e:
        raise _Unread("It cannot be opened; check that it is there and may be read.") from e


def _sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _json(record: Record) -> bytes:
    return msgspec.json.format(msgspec.json.encode(record), indent=1) + b"\n"


def _read_record(home: Path) -> Record | None:
    """The record of a finished instrument; None where there is none that can be relied on."""
    try:
        record = read_json(home / RECORD, Record)
    except (OSError, msgspec.MsgspecError):
        return None
    whole = record.schema == SCHEMA and all((home / name).is_file() for name in record.files)
    return record if whole else None


def _clear(home: Path, known: Record | None, record: Record) -> None:
    """Take the old record away, and the old files that the new ones do not replace."""
    (home / RECORD).unlink(missing_ok=True)
    for name in set(known.files if known else ()) - set(record.files):
        path = home / name
        if path.resolve().is_relative_to(home.resolve()):
            path.unlink(missing_ok=True)
