"""Manifest: a CSV file that lists the instruments of a batch, one a line.

Conventions: UTF-8, the first line names the columns. Cells are parted by commas, or by semicolons where the first line
has semicolons and no comma, as spreadsheets write where the comma is the decimal sign; then `442,5` is a number.
`instrument` and `recordings` are needed: paths from the manifest's own folder, or fsspec addresses, the parts of one
harp parted by `;` within the cell. Where semicolons part the cells too, such a cell stands in quotation marks; a
spreadsheet puts them there by itself. The other columns may be left out or empty, and then what the command says for
all counts: `layout`, `tuning`, `a4`, `levers`, `pedals`, `missing`, `date`, `place`, `humidity`, `note`.

The whole file is checked before any work: every problem is listed, with its line and column.
"""

import csv
import errno
import io
from collections.abc import Sequence
from dataclasses import dataclass, fields
from pathlib import Path

from analyzer.errors import UnusableInput
from analyzer.intake import Found, Item, Words, collisions, is_address, make_item, one_line
from analyzer.json_files import read_bounded
from analyzer.notes import nearest
from analyzer.settings import BatchSettings
from analyzer.spreadsheet import parted_by, pointed

COLUMNS = ("instrument", "recordings", *(f.name for f in fields(Words)))
NEEDED = ("instrument", "recordings")
NUMBERS = ("a4", "humidity")
"""Columns that may have a decimal comma where semicolons part the cells."""
_ALSO = {
    "recording": "recordings",
    "recording(s)": "recordings",
    "a4_hz": "a4",
    "notes": "note",
    "owner's_note": "note",
    "owner_note": "note",
    "humidity_percent": "humidity",
}
"""Other names that people give the columns."""
_DEFAULTS = BatchSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    number: int
    cells: dict[str, str]


def read_manifest(file: Path, common: Words, settings: BatchSettings = _DEFAULTS) -> Found:
    """Read and check a manifest. Raises UnusableInput that lists every problem, one a line."""
    header, rows, semicolons = _rows(file, settings)
    problems: list[tuple[int, str, str]] = []
    items: list[tuple[int, Item]] = []
    for number, cells in rows:
        if len(cells) != len(header):
            what = f"{len(cells)} cells where the first line has {len(header)}; mend the line."
            if semicolons and len(cells) > len(header):
                what += " A cell that holds ';' stands in quotation marks."
            problems.append((number, "", what))
            continue
        named = dict(zip(header, cells, strict=True))
        if semicolons:
            named |= {name: pointed(named[name]) for name in NUMBERS if name in named}
        line = _Line(number=number, cells=named)
        item, wrong = _checked(line, file.parent, common, settings)
        problems += [(number, column, what) for column, what in wrong]
        if item is not None:
            items.append((number, item))
    problems += [
        (int(where.removeprefix("line ")), "instrument", what)
        for where, what in collisions([(f"line {number}", item) for number, item in items])
    ]
    if problems:
        raise UnusableInput(_listed(file, header, problems))
    if not items:
        raise UnusableInput(f"{file}: no instrument is listed in it; write one a line.")
    return Found(items=tuple(item for _, item in items))


def _rows(file: Path, settings: BatchSettings) -> tuple[list[str], list[tuple[int, list[str]]], bool]:
    """The columns, (line number, cells) of every line that is not empty, and whether semicolons part the cells."""
    shown = one_line(str(file))
    try:
        text = read_bounded(file, settings.manifest_limit_bytes).decode("utf-8-sig")
    except UnicodeDecodeError as e:
        raise UnusableInput(f"{shown}: not UTF-8 text; save the list as CSV in UTF-8.") from e
    except OSError as e:
        if e.errno == errno.EFBIG:
            raise UnusableInput(f"{shown}: larger than any manifest ({settings.manifest_limit_bytes} bytes).") from e
        raise UnusableInput(f"{shown}: cannot be read; give a folder, or a list as a CSV file.") from e
    delimiter = parted_by(text)
    reader = csv.reader(io.StringIO(text, newline=""), strict=True, delimiter=delimiter)
    rows: list[tuple[int, list[str]]] = []
    start = 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                rows.append((start, cells))
            start = reader.line_num + 1
            if len(rows) > settings.manifest_lines_n:
                raise UnusableInput(f"{shown}: more than {settings.manifest_lines_n} lines; split the list.")
    except csv.Error as e:
        raise UnusableInput(f"{shown}, line {start}: not CSV from here on ({e}); check the quotation marks.") from e
    if not rows:
        raise UnusableInput(f"{shown}: the file is empty; its first line names the columns: {', '.join(COLUMNS)}.")
    return _header(shown, rows[0][1], settings), rows[1:], delimiter == ";"


def _header(shown: str, cells: Sequence[str], settings: BatchSettings) -> list[str]:
    """The columns by their own names. Raises UnusableInput with everything that is wrong with them."""
    names = ["_".join(cell.strip().lower().split()) for cell in cells[: settings.columns_n]]
    header = [_ALSO.get(name, name) for name in names]
    problems = [
        f"line 1, column {i + 1}: unknown column {one_line(cells[i])!r}; known are {', '.join(COLUMNS)}."
        + nearest(name, COLUMNS)
        for i, name in enumerate(header)
        if name not in COLUMNS
    ]
    problems += [
        f"line 1, column {i + 1}: the column {name!r} is there twice; keep one."
        for i, name in enumerate(header)
        if name in header[:i]
    ]
    problems += [f"line 1: there is no column {name!r}; add it." for name in NEEDED if name not in header]
    if problems:
        raise UnusableInput("\n  ".join([f"{shown}: nothing was started. {_counted(problems)}:", *problems]))
    return header


def _checked(
    line: _Line, folder: Path, common: Words, settings: BatchSettings
) -> tuple[Item | None, list[tuple[str, str]]]:
    """The line as an Item, or (column, sentence) for all its problems."""
    cells = {**line.cells, "note": " ".join(line.cells.get("note", "").split())}
    problems = [
        (name, "it holds a line break or another character that does not print; take it out.")
        for name, cell in cells.items()
        if not cell.isprintable()
    ]
    problems += [
        (name, f"{len(cell)} characters, more than {settings.cell_n}; shorten it.")
        for name, cell in cells.items()
        if len(cell) > settings.cell_n
    ]
    if problems:
        return None, problems
    cells = {name: cell.strip() for name, cell in cells.items()}
    problems = [(name, "it is empty, and is needed.") for name in NEEDED if not cells[name]]
    names = [part.strip() for part in cells["recordings"].split(";") if part.strip()]
    recordings = [name if is_address(name) else str(folder / name) for name in names]
    problems += [("recordings", what) for what in map(_recording_problem, names, recordings) if what]
    if len(set(recordings)) < len(recordings):
        problems.append(("recordings", "one recording is named twice; name each once."))
    written = {name: cells.get(name, "") for name in COLUMNS if name not in NEEDED}
    own = folder / written["layout"]
    if written["layout"].lower().endswith(".toml") and own.is_file():
        written["layout"] = str(own)
    item, wrong = make_item(cells["instrument"], recordings, names, Words(**written), common, settings)
    return (None if problems else item), problems + wrong


def _recording_problem(name: str, recording: str) -> str:
    """Why a recording cannot even be tried; whether it is sound is found out by listening."""
    if is_address(recording):
        return ""
    try:
        path = Path(recording)
        if path.is_dir():
            return f"{name!r} is a folder; name the recording in it."
        if not path.is_file():
            return f"there is no file {name!r} (looked for from the manifest's own folder); check the path."
    except (OSError, ValueError):
        return f"{name!r} is no path; check it."
    return ""


def _listed(file: Path, header: Sequence[str], problems: Sequence[tuple[int, str, str]]) -> str:
    """All problems by line and column."""

    def place(column: str) -> int:
        return header.index(column) + 1 if column in header else len(header) + 1

    alike: dict[tuple[str, str], list[int]] = {}
    for number, column, what in sorted(problems, key=lambda p: (p[0], place(p[1]))):
        numbers = alike.setdefault((column, what), [])
        if number not in numbers[-1:]:  # a cell that names one file twice has its problem once
            numbers.append(number)
    lines = []
    for (column, what), numbers in alike.items():
        where = f"line {numbers[0]}" if len(numbers) == 1 else f"lines {_runs(numbers)}"
        if not column:
            lines.append(f"{where}: {what}")
        elif column in header:
            lines.append(f"{where}, column {place(column)} ({column}): {what}")
        else:
            lines.append(f"{where}, no column {column}: {what}")
    return "\n  ".join([f"{one_line(str(file))}: nothing was started. {_counted(lines)}:", *lines])


def _runs(numbers: Sequence[int]) -> str:
    """Line numbers in order, those that follow one another as one: `2-6, 8`."""
    parts: list[list[int]] = []
    for number in numbers:
        if parts and number <= parts[-1][-1] + 1:
            parts[-1].append(number)
        else:
            parts.append([number])
    return ", ".join(f"{part[0]}-{part[-1]}" if len(part) > 1 else str(part[0]) for part in parts)


def _counted(problems: Sequence[object]) -> str:
    return "One problem" if len(problems) == 1 else f"{len(problems)} problems"
