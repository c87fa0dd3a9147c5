"""The process that surveys one instrument after another for a batch (`python -m analyzer.worker`).

Task: whatever a recording does to the program (a crash of a decoder, all memory, no end), it does to this process only;
`workers` starts it, gives it one order at a time, and ends it when a limit is passed. What is loaded stays loaded from
one instrument to the next.

Conventions: orders and answers are MessagePack, each after its length in 8 bytes, on standard input and output;
nothing else may reach the output, and nothing is written to the results: the answer holds the files. When the input
ends, the batch is gone, and this process ends at once, whatever it is at.
"""

import os
import queue
import sys
import tempfile
import threading
from pathlib import Path
from typing import IO, Literal

import msgspec

from analyzer.errors import SurveyError, TooLittleHarp, UnusableInput
from analyzer.intake import Item, one_line, request_of
from analyzer.prices import Prices
from analyzer.settings import Settings
from analyzer.speech import PLAIN, Manner, speaking
from analyzer.survey import Survey, read_survey, to_json
from analyzer.triage import Line, line_of

Reports = Literal["none", "summary", "full"]
_LENGTH = 8


class Order(msgspec.Struct, frozen=True, kw_only=True):
    """One instrument to be surveyed, or its line to be made again from a survey."""

    item: Item
    paths: tuple[bytes, ...]
    """Its recordings, as the file system names them (os.fsencode), for `Item.recordings` may not be text."""
    reports: Reports
    manner: Manner = PLAIN
    """How the reports speak."""
    prices: Prices | None
    survey: bytes = b""
    """Path of a survey that still stands; then only its line is made."""


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """What came of it."""

    line: Line | None
    files: dict[str, bytes]
    failures: tuple[tuple[str, str], ...]
    """(recording, reason) of those that gave nothing."""


def main() -> None:
    """Answer orders until there are no more."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever a library prints goes to standard error
    orders: queue.SimpleQueue[bytes] = queue.SimpleQueue()
    threading.Thread(target=_take_in, args=(orders,), daemon=True).start()
    while True:
        order = msgspec.msgpack.decode(orders.get(), type=Order)
        send(answers, msgspec.msgpack.encode(_answered(order)))


def _take_in(orders: "queue.SimpleQueue[bytes]") -> None:
    """Orders as they come; the end of the process when the batch that gives them has ended."""
    while (message := receive(sys.stdin.buffer)) is not None:
        orders.put(message)
    os._exit(0)


def send(pipe: IO[bytes], message: bytes) -> None:
    """Put a message into a pipe."""
    pipe.write(len(message).to_bytes(_LENGTH, "big") + message)
    pipe.flush()


def receive(pipe: IO[bytes]) -> bytes | None:
    """The next message; None where the other side is gone."""
    head = pipe.read(_LENGTH)
    if len(head) < _LENGTH:
        return None
    length = int.from_bytes(head, "big")
    message = pipe.read(length)
    return message if len(message) == length else None


def _answered(order: Order) -> Answer:
    try:
        if order.survey:
            survey = read_survey(Path(os.fsdecode(order.survey)))
            return Answer(line=line_of(survey, order.prices), files={}, failures=())
        return _surveyed(order)
    except MemoryError:
        reason = "It takes more memory than there is; cut out the part with the harp."
    except Exception as e:  # a fault of ours must not stop the others; it is shown, not hidden
        reason = f"The program failed on it ({type(e).__name__}: {one_line(str(e))}); please report this."
    return Answer(line=None, files={}, failures=tuple((name, reason) for name in order.item.names))


def _surveyed(order: Order) -> Answer:
    paths = tuple(Path(os.fsdecode(path)) for path in order.paths)
    names = dict(zip(paths, order.item.names, strict=True))
    failures: list[tuple[str, str]] = []
    try:
        survey = _survey(order.item, paths)
    except SurveyError as first:
        bad = {} if isinstance(first, TooLittleHarp) or len(paths) == 1 else _unusable(paths)
        failures = [(names[path], reason_for(path, e)) for path, e in bad.items()]
        good = tuple(path for path in paths if path not in bad)
        if not bad or not good:
            failures = failures or [(names[path], reason_for(path, first)) for path in paths]
            return Answer(line=None, files={}, failures=tuple(failures))
        try:
            survey = _survey(order.item, good)
        except SurveyError as e:
            failures += [(names[path], reason_for(path, e)) for path in good]
            return Answer(line=None, files={}, failures=tuple(failures))
    with speaking(order.manner):
        files = _files(survey, order.reports, paths)
    return Answer(line=line_of(survey, order.prices), files=files, failures=tuple(failures))


def _survey(item: Item, paths: tuple[Path, ...]) -> Survey:
    from analyzer.pipeline import analyze

    return analyze(request_of(item, paths), Settings())


def _unusable(paths: tuple[Path, ...]) -> dict[Path, UnusableInput]:
    """The parts that cannot be read at all."""
    from analyzer.recording import read_recording

    bad = {}
    for path in paths:
        try:
            read_recording(path, Settings().recording)
        except UnusableInput as e:
            bad[path] = e
    return bad


def reason_for(path: Path, error: SurveyError) -> str:
    """The sentence without the recording's path, which stands beside it."""
    said = str(error)
    for shown in (str(path), one_line(str(path)), path.name, one_line(path.name)):
        said = said.removeprefix(f"{shown}: ").replace(shown, "it" if shown == str(path) else one_line(path.name))
    return one_line(said[:1].upper() + said[1:])


def _files(survey: Survey, reports: Reports, paths: tuple[Path, ...]) -> dict[str, bytes]:
    """The files of one survey; figures and all only where asked for."""
    from analyzer import tables

    if reports == "full":
        from analyzer.cli.analyze import write

        with tempfile.TemporaryDirectory() as folder:
            home = Path(folder) / "survey"
            write(survey, home)
            return {p.relative_to(home).as_posix(): p.read_bytes() for p in sorted(home.rglob("*")) if p.is_file()}
    files = {
        "survey.json": to_json(survey),
        "strings.csv": tables.strings_csv(survey).encode(),
        "plucks.csv": tables.plucks_csv(survey).encode(),
    }
    if reports == "summary":
        from analyzer.report import summary_page

        files["report.html"] = summary_page.render(survey).encode()
    return files


if __name__ == "__main__":
    main()
