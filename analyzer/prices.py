"""Prices: the owner's own price list, a CSV file.

Conventions: UTF-8, commas (or semicolons, and then the price may have a decimal comma), one line a string. Columns:
`string` (C4, 5C, or `bass wires` for a whole set) and `price`, a plain number with a dot; perhaps `material` and
`stringing` where one string comes in several kinds. Strings that this harp has not, but another might, are passed
over. No currency is named: all prices are in the owner's.
"""

import csv
import errno
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import get_args

from analyzer.errors import UnusableInput
from analyzer.json_files import read_bounded
from analyzer.layout import Layout, LayoutString, Material, load_layout
from analyzer.notes import nearest, parse_note, string_named
from analyzer.settings import PlanSettings
from analyzer.spreadsheet import parted_by, pointed

COLUMNS = ("string", "price", "material", "stringing")
STRINGINGS = ("light", "lever gut", "concert")
_SET = re.compile(r"(?:set of )?bass[ -]wires?(?: set)?|wire set", re.I)
_AMOUNT = re.compile(r"[0-9]+(?:\.[0-9]{1,2})?")
_CURRENCY = re.compile(r"[^\d.,'\s+\-−]+")
_DEFAULTS = PlanSettings()
_WIDEST = "pedal-47-C1-G7"
_OCTAVES = range(8)
"""Of the notes that harps may have: the widest goes from C1 to G7 (our layouts), and a list may go somewhat beyond."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceLine:
    """One line of the list."""

    string: str
    price: float
    material: str
    """Empty where the list does not say."""
    stringing: str
    line: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """The list, read for one layout."""

    lines: tuple[PriceLine, ...]
    wire_set: float | None
    """Price of the bass wires as a set."""

    def line_for(self, string: LayoutString, stringing: str) -> PriceLine | None:
        """The line that fits a string in material and kind of stringing; None where none does."""
        fits = [
            p
            for p in self.lines
            if p.string == string.string
            and (not p.material or string.material == "unknown" or p.material == string.material)
            and (not p.stringing or p.stringing == stringing)
        ]
        return fits[0] if fits else None


def amount(text: str, where: str) -> float:
    """A price or budget: a plain number with a dot. Raises UnusableInput that says what is in its way."""
    text = text.strip()
    if _AMOUNT.fullmatch(text):
        return float(text)
    if mark := _CURRENCY.search(text):
        why = f"leave out {mark[0].strip()!r}: write the number alone"
    elif "," in text:
        why = "write a dot for the decimals and no mark for the thousands"
    elif not text:
        why = "write a number"
    else:
        why = "write a number from 0 up, with at most two decimals"
    raise UnusableInput(f"{where}: {text!r} is not a plain amount; {why}, as in 12.50.")


def read_prices(file: Path, layout: Layout, settings: PlanSettings = _DEFAULTS) -> Prices:
    """Read a price list.

    Raises UnusableInput, naming file, line and value, for what is not in the form above.
    """
    rows, semicolons = _rows(file, settings)
    header = [name.strip().lower() for name in rows[0]] if rows else []
    _check_header(file, header)
    lines: list[PriceLine] = []
    wire_set: float | None = None
    for number, cells in enumerate(rows[1:], start=2):
        if not any(cell.strip() for cell in cells):
            continue
        where = f"{file}, line {number}"
        if len(cells) != len(header):
            raise UnusableInput(f"{where}: {len(cells)} cells where the first line has {len(header)}; mend the line.")
        cell = dict(zip(header, (c.strip() for c in cells), strict=True))
        price = amount(pointed(cell["price"]) if semicolons else cell["price"], f"{where}, price")
        if _SET.fullmatch(cell["string"]):
            if wire_set is not None:
                raise UnusableInput(f"{where}: the set of bass wires is listed twice; keep one line.")
            wire_set = price
            continue
        lines.append(_line(cell, price, number, where, layout))
    _check_doubles(file, lines)
    return Prices(lines=tuple(lines), wire_set=wire_set)


def _rows(file: Path, settings: PlanSettings) -> tuple[list[list[str]], bool]:
    """The lines of the list, and whether their cells are parted by semicolons."""
    try:
        text = read_bounded(file, settings.prices_limit_bytes).decode("utf-8-sig")
        rows = list(csv.reader(io.StringIO(text, newline=""), strict=True, delimiter=parted_by(text)))
    except OSError as e:
        if e.errno == errno.EFBIG:
            raise UnusableInput(f"{file}: larger than any price list ({settings.prices_limit_bytes} bytes).") from e
        raise UnusableInput(f"{file}: cannot be read ({e.strerror}); give a price list as a CSV file.") from e
    except UnicodeDecodeError as e:
        raise UnusableInput(f"{file}: not UTF-8 text; save the price list as CSV in UTF-8.") from e
    except csv.Error as e:
        raise UnusableInput(f"{file}: not a CSV file ({e}).") from e
    if len(rows) > settings.prices_lines_n:
        raise UnusableInput(f"{file}: more than {settings.prices_lines_n} lines; leave out what is not for harps.")
    return rows, parted_by(text) == ";"


def _check_header(file: Path, header: Sequence[str]) -> None:
    for name in header:
        if name not in COLUMNS:
            raise UnusableInput(
                f"{file}: unknown column {name!r}; known are {', '.join(COLUMNS)}.{nearest(name, COLUMNS)}"
            )
    for name in COLUMNS[:2]:
        if name not in header:
            raise UnusableInput(f"{file}: no column {name!r}; the first line names the columns: {', '.join(COLUMNS)}.")
    if len(set(header)) < len(header):
        raise UnusableInput(f"{file}: a column is named twice in its first line; keep one.")


def _line(cell: dict[str, str], price: float, number: int, where: str, layout: Layout) -> PriceLine:
    string = _string(cell["string"], where, layout)
    for name, known in (("material", get_args(Material)), ("stringing", STRINGINGS)):
        if (value := cell.get(name, "")) and value not in known:
            raise UnusableInput(
                f"{where}: unknown {name} {value!r}; it may be {', '.join(known)}.{nearest(value, known)}"
            )
    return PriceLine(
        string=string,
        price=price,
        material=cell.get("material", ""),
        stringing=cell.get("stringing", ""),
        line=number,
    )


def _string(text: str, where: str, layout: Layout) -> str:
    """The string of this layout, or of any other harp: one list serves a school's pedal and lever harps."""
    try:
        return string_named(text, layout)
    except UnusableInput as e:
        try:
            note = parse_note(text)
            other = f"{note.letter}{note.octave}" if note.octave in _OCTAVES else ""
        except UnusableInput:
            other = _of_the_widest(text)
        if not other or any(s.string == other for s in layout.strings):
            raise UnusableInput(f"{where}: {e}") from e
        return other


def _of_the_widest(text: str) -> str:
    """What words name on the widest harp that is built in; empty where they name nothing there."""
    try:
        return string_named(text, load_layout(_WIDEST))
    except UnusableInput:
        return ""


def _check_doubles(file: Path, lines: Sequence[PriceLine]) -> None:
    seen: dict[tuple[str, str, str], int] = {}
    for p in lines:
        key = (p.string, p.material, p.stringing)
        if key in seen:
            raise UnusableInput(
                f"{file}: {p.string} is listed on lines {seen[key]} and {p.line}; keep one, or say material or"
                " stringing."
            )
        seen[key] = p.line
