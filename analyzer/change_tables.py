"""A comparison as CSV: `changes.csv`, and `regulation.csv` where levers or pedals were measured.

Conventions as in `tables`. The contract's columns come first, in its order; what we add follows.
"""

from collections.abc import Callable

from analyzer.changes import Pair, StringChange
from analyzer.comparison import Comparison
from analyzer.regulation import Raised
from analyzer.tables import as_text, csv_text, digits, fixed, yes_no


def changes_csv(comparison: Comparison) -> str:
    """One row for every string and pair of consecutive surveys."""
    rows = [
        {name: cell(row, pair) for name, cell in CHANGE_COLUMNS.items()}
        for pair in comparison.pairs
        for row in pair.strings
    ]
    return csv_text(CHANGE_COLUMNS, rows)


def regulation_csv(strings: tuple[Raised, ...]) -> str:
    """One row for every string."""
    rows = [{name: cell(row) for name, cell in REGULATION_COLUMNS.items()} for row in strings]
    return csv_text(REGULATION_COLUMNS, rows)


CHANGE_COLUMNS: dict[str, Callable[[StringChange, Pair], str]] = {
    "string": lambda row, _: as_text(row.string),
    "before_date": lambda _, pair: as_text(pair.before_date),
    "after_date": lambda _, pair: as_text(pair.after_date),
    "before_cents": lambda row, _: fixed(row.before_cents, 2),
    "after_cents": lambda row, _: fixed(row.after_cents, 2),
    "change_cents": lambda row, _: fixed(row.change_cents, 2),
    "change_u95": lambda row, _: fixed(row.change_u95, 2),
    "changed": lambda row, _: yes_no(row.changed),
    "before_decay_s": lambda row, _: fixed(row.before_decay_s, 3),
    "after_decay_s": lambda row, _: fixed(row.after_decay_s, 3),
    "before_dull": lambda row, _: yes_no(row.before_dull),
    "after_dull": lambda row, _: yes_no(row.after_dull),
    "new_string": lambda row, _: row.new_string,
    "remarks": lambda row, _: as_text(" ".join(row.remarks)),
    "effect": lambda row, _: row.effect,
    "before_status": lambda row, _: row.before_status,
    "after_status": lambda row, _: row.after_status,
    "decay_ratio": lambda row, _: fixed(row.decay_ratio, 3),
    "decay_ratio_u95": lambda row, _: fixed(row.decay_ratio_u95, 3),
    "brightness_change_db": lambda row, _: fixed(row.brightness_change_db, 1),
    "brightness_u95_db": lambda row, _: fixed(row.brightness_u95_db, 1),
    "before_load_share": lambda row, _: fixed(row.before_load_share, 4),
    "after_load_share": lambda row, _: fixed(row.after_load_share, 4),
    "perhaps_replaced": lambda row, _: yes_no(row.perhaps_replaced),
    "before_u95": lambda row, _: fixed(row.before_u95, 2),
    "after_u95": lambda row, _: fixed(row.after_u95, 2),
    "before_decay_u95_s": lambda row, _: fixed(row.before_decay_u95_s, 3),
    "after_decay_u95_s": lambda row, _: fixed(row.after_decay_u95_s, 3),
}
"""Column -> its cell; from `effect` on, additions to the contract."""

REGULATION_COLUMNS: dict[str, Callable[[Raised], str]] = {
    "string": lambda row: as_text(row.string),
    "open_hz": lambda row: digits(row.open_hz, 7),
    "engaged_hz": lambda row: digits(row.engaged_hz, 7),
    "rise_cents": lambda row: fixed(row.rise_cents, 2),
    "rise_u95": lambda row: fixed(row.rise_u95, 2),
    "should_cents": lambda row: fixed(row.should_cents, 2),
    "off_cents": lambda row: fixed(row.off_cents, 2),
    "raising": lambda row: row.raising,
    "buzzes": lambda row: yes_no(row.buzzes),
    "remarks": lambda row: as_text(" ".join(row.remarks)),
}
"""Column -> its cell."""
