"""CSV as spreadsheets write it where the comma is the decimal sign: cells parted by semicolons, `442,5` for 442.5,
`1.3.2026` for 2026-03-01; and a day as a person gives it."""

import re
from datetime import date

from analyzer.errors import UnusableInput

_DOTTED = re.compile(r"\s*(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})\s*")


def parted_by(text: str) -> str:
    """What parts the cells: a semicolon where the first line has one and no comma, else a comma."""
    header = text.split("\n", 1)[0]
    return ";" if ";" in header and "," not in header else ","


def pointed(number: str) -> str:
    """`24,50` as `24.50`; what has a dot, or several commas, as it is."""
    return number.replace(",", ".") if number.count(",") == 1 and "." not in number else number


def dashed(text: str) -> str:
    """`1.3.2026` as `2026-03-01`: with dots the day comes first wherever dots are written; anything else as it is."""
    dotted = _DOTTED.fullmatch(text)
    return f"{dotted[3]}-{int(dotted[2]):02}-{int(dotted[1]):02}" if dotted else text


def day(text: str) -> str:
    """A day as it was given, ISO 8601; empty stays empty. Raises UnusableInput."""
    if not text:
        return ""
    try:
        return date.fromisoformat(dashed(text)).isoformat()
    except ValueError as e:
        raise UnusableInput(f"{text!r} is no day; write it as 2026-03-01 (year-month-day).") from e
