"""Collection: a batch of instruments surveyed in parallel, and gone on with where it was stopped.

Task: Items -> for each its results in `instruments/KEY/` and an Outcome; then the tables are made from the outcomes.

An instrument is finished when its record (`finished`) says so, by the fingerprint of what it was made from: the
recordings' contents, layout, tuning and all that was said, every setting, the program's version and the kind of report.
A price list only changes an instrument's line, which is then made again from its survey.

Two batches on one folder share the work: an instrument is locked while one is at it, by a lock that the system lets go
when a program dies; the other goes on with the next and comes back to it last.

Every instrument is surveyed in a process of its own (`workers`) that can be stopped; joblib deals the instruments out
by one call, to threads here, each of which waits for its process and writes what that found, or to the workers of a
Dask cluster. All writing on this machine is the batch's own process's, so that nothing is written once it was killed.
"""

import atexit
import contextlib
import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from analyzer.errors import UnusableInput
from analyzer.fetching import Unread, content_sha256, local
from analyzer.finished import RECORD, Record, clear, fingerprint, hash_of, read_record, to_json
from analyzer.intake import Item
from analyzer.prices import Prices
from analyzer.settings import BatchSettings
from analyzer.speech import PLAIN, Manner
from analyzer.worker import Answer, Order, Reports
from analyzer.workers import Hand, Limits, Stopped
from analyzer.writing import REASONS, sweep, write_files

INSTRUMENTS, LOCKS = "instruments", ".locks"
_DEFAULTS = BatchSettings()


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
        for outcome in _dealt(left, replace(errand, wait=wait), workers_n, dask):
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
            stack.enter_context(parallel_config(backend="threading"))
            deal = Parallel(n_jobs=min(workers_n, len(items)), batch_size=1, return_as="generator_unordered")
        yield from deal(delayed(survey_one)(item, errand) for item in items)


def _dask_client(address: str) -> "contextlib.AbstractContextManager[object]":
    try:
        from distributed import Client
    except ImportError as e:
        raise UnusableInput("--dask needs more packages: pip install 'harp-string-survey[cluster]'.") from e
    try:
        client: Any = Client
        return client(address, timeout=_DEFAULTS.connect_s)  # type: ignore[no-any-return]
    except (OSError, ValueError, TimeoutError) as e:
        raise UnusableInput(f"{address}: no Dask scheduler answers there; start one with: dask scheduler.") from e


def survey_one(item: Item, errand: Errand, settings: BatchSettings = _DEFAULTS) -> Outcome:
    """Survey one instrument in this worker, unless it is finished already. Raises UnusableInput as `survey_all`."""
    import filelock

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


def _survey_locked(item: Item, errand: Errand, home: Path, settings: BatchSettings) -> Outcome:
    prices = errand.prices.get(item.layout.name)
    priced = hash_of(prices) if prices else ""
    with contextlib.ExitStack() as stack:
        try:
            seconds = errand.limits.seconds
            paths = [stack.enter_context(local(recording, seconds, settings)) for recording in item.recordings]
            made_from = fingerprint(item, errand.reports, errand.manner, [content_sha256(path) for path in paths])
        except Unread as e:
            failures = tuple((name, str(e)) for name in item.names)
            return Outcome(key=item.key, record=Record(fingerprint="", priced=priced, failures=failures), found=False)
        known = read_record(home)
        if known is not None and known.fingerprint == made_from and known.limits in (None, _pair(errand.limits)):
            if known.line is None or known.priced == priced:
                return Outcome(key=item.key, record=known, found=True)
            answer, _ = _asked(item, errand, paths, prices, os.fsencode(home / "survey.json"))
            if answer.line is not None:
                record = replace(known, priced=priced, limits=None, line=answer.line)
                write_files(home, {RECORD: to_json(record)})
                return Outcome(key=item.key, record=record, found=True)
        answer, limits = _asked(item, errand, paths, prices, b"")
    record = Record(
        fingerprint=made_from,
        priced=priced,
        limits=limits,
        files=tuple(sorted(answer.files)),
        line=answer.line,
        failures=answer.failures,
    )
    clear(home, known, record)
    write_files(home, {**answer.files, RECORD: to_json(record)})
    return Outcome(key=item.key, record=record, found=False)


_idle: list[Hand] = []
"""Processes that wait for their next order, from one instrument to the next; whoever asks takes one out."""


def _asked(
    item: Item, errand: Errand, paths: Sequence[Path], prices: Prices | None, survey: bytes
) -> tuple[Answer, tuple[float, float] | None]:
    """The answer of a process, and the limits where they stopped it."""
    try:
        hand = _idle.pop()
    except IndexError:
        hand = Hand()
    order = Order(
        item=replace(item, recordings=()),  # the paths are in its place
        paths=tuple(map(os.fsencode, paths)),
        reports=errand.reports,
        manner=errand.manner,
        prices=prices,
        survey=survey,
    )
    try:
        return hand.ask(order, errand.limits), None
    except Stopped as e:
        failures = tuple((name, str(e)) for name in item.names)
        return Answer(line=None, files={}, failures=failures), _pair(errand.limits) if e.by_limit else None
    finally:
        _idle.append(hand)


@atexit.register
def _let_go() -> None:
    """End the processes that wait; those at work end by themselves when this one is gone."""
    while _idle:
        _idle.pop().close()


def _pair(limits: Limits) -> tuple[float, float]:
    return limits.seconds, limits.mb
