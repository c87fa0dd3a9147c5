"""A survey as CSV: `strings.csv` and `plucks.csv`, for scripts and spreadsheets.

Conventions: RFC 4180 through the csv module, UTF-8, LF line ends, a dot for decimals, no thousands mark, an
empty cell for what is not known. The contract's columns come first, in its order; what we add follows. A
figure is written to a fixed fineness well below its uncertainty (its interval stands in the next column),
so that columns can be recomputed from one another: pitches to seven digits (at worst 0.002 cents), cents to
0.01, onsets to 0.1 ms.

Text that a spreadsheet would take for a formula gets an apostrophe before it (OWASP, "CSV Injection");
numbers are exempt, as they are only ever written by the formats here.
"""

import csv
import io
from collections.abc import Callable, Iterable

from analyzer.survey import PluckRow, StringRow, Survey

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")


def strings_csv(survey: Survey) -> str:
    """`strings.csv`: one row for every string of the layout, lowest first."""
    return csv_text(STRING_COLUMNS, strings_cells(survey))


def plucks_csv(survey: Survey) -> str:
    """`plucks.csv`: one row for every sound taken for a pluck, in time order."""
    return csv_text(PLUCK_COLUMNS, plucks_cells(survey))


def strings_cells(survey: Survey) -> list[dict[str, str]]:
    """The rows of `strings.csv`, column -> cell: what the report shows of a string is taken from here too."""
    return [{name: cell(row, survey) for name, cell in STRING_COLUMNS.items()} for row in survey.strings]


def plucks_cells(survey: Survey) -> list[dict[str, str]]:
    """The rows of `plucks.csv`, column -> cell."""
    return [{name: cell(row, survey) for name, cell in PLUCK_COLUMNS.items()} for row in survey.plucks]


def csv_text(columns: Iterable[str], rows: Iterable[dict[str, str]], *, head: bool = True) -> str:
    """Rows (column -> cell) as CSV, under their heading or without it."""
    out = io.StringIO()
    writer = csv.DictWriter(out, fieldnames=list(columns), lineterminator="\n")
    if head:
        writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def fixed(value: float | None, decimals_n: int) -> str:
    """A number with so many decimals, without a minus before 0; empty where it is not known."""
    return "" if value is None else f"{value:z.{decimals_n}f}"


def digits(value: float | None, digits_n: int) -> str:
    """A number with so many significant digits; empty where it is not known."""
    return "" if value is None else f"{value:.{digits_n}g}"


def yes_no(value: bool | None) -> str:
    """`true`, `false`, or empty where it is not known."""
    return "" if value is None else str(value).lower()


def as_text(value: str) -> str:
    """A text that no spreadsheet takes for a formula."""
    return "'" + value if value.startswith(_FORMULA_STARTS) else value


def _recording(index: int | None, survey: Survey) -> str:
    return "" if index is None else as_text(survey.recordings[index].name)


def _also(row: PluckRow) -> str:
    return as_text(";".join(f"{string}:{probability:.2f}" for string, probability in row.also_possible))


STRING_COLUMNS: dict[str, Callable[[StringRow, Survey], str]] = {
    "string": lambda row, _: as_text(row.string),
    "note": lambda row, _: as_text(row.note),
    "target_hz": lambda row, _: digits(row.target_hz, 7),
    "status": lambda row, _: row.status,
    "onset_s": lambda row, _: fixed(row.onset_s, 4),
    "pitch_hz": lambda row, _: digits(row.pitch_hz, 7),
    "cents": lambda row, _: fixed(row.cents, 2),
    "cents_u95": lambda row, _: fixed(row.cents_u95, 2),
    "match_confidence": lambda row, _: fixed(row.match_confidence, 3),
    "decay_s": lambda row, _: fixed(row.decay_s, 3),
    "decay_u95_s": lambda row, _: fixed(row.decay_u95_s, 3),
    "dull": lambda row, _: yes_no(row.dull),
    "dull_probability": lambda row, _: fixed(row.dull_probability, 3),
    "false_probability": lambda row, _: fixed(row.false_probability, 3),
    "verdict": lambda row, _: row.verdict,
    "remarks": lambda row, _: as_text(" ".join(row.remarks)),
    "recording": lambda row, survey: _recording(row.recording, survey),
    "expected_decay_s": lambda row, _: fixed(row.expected_decay_s, 3),
    "brightness_db": lambda row, _: fixed(row.brightness_db, 1),
    "inharmonicity": lambda row, _: digits(row.inharmonicity, 3),
    "loss_factor": lambda row, _: digits(row.loss_factor, 3),
    "loss_factor_u95": lambda row, _: digits(row.loss_factor_u95, 2),
}
"""Column -> its cell; from `recording` on, additions to the contract."""

PLUCK_COLUMNS: dict[str, Callable[[PluckRow, Survey], str]] = {
    "onset_s": lambda row, _: fixed(row.onset_s, 4),
    "end_s": lambda row, _: fixed(row.end_s, 4),
    "string": lambda row, _: as_text(row.string or ""),
    "confidence": lambda row, _: fixed(row.confidence, 3),
    "also_possible": lambda row, _: _also(row),
    "counted": lambda row, _: yes_no(row.counted),
    "reason": lambda row, _: as_text(row.reason),
    "pitch_hz": lambda row, _: digits(row.pitch_hz, 7),
    "level_db": lambda row, _: fixed(row.level_db, 1),
    "recording": lambda row, survey: _recording(row.recording, survey),
}
"""Column -> its cell; `recording` is an addition to the contract."""
