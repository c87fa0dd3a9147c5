"""A plan as files for scripts and spreadsheets: `plan.csv`, `load.csv`, `buy.csv`, `plan.json`.

Conventions as in `tables`: RFC 4180 through the csv module, UTF-8, LF line ends, a dot for decimals, no thousands
mark, an empty cell for what is not known; the contract's columns first, in its order. Cents to 0.1, which is finer
than a pin can be set; frequencies to seven digits; newtons to 0.1.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from analyzer.errors import UnusableInput
from analyzer.json_files import check_schema, read_json
from analyzer.load import StringLoad
from analyzer.plan import SCHEMA, Plan
from analyzer.purchases import Purchase
from analyzer.tables import as_text, csv_text, fixed
from analyzer.worklist import PlanRow, closing

Row = TypeVar("Row")


def plan_csv(plan: Plan) -> str:
    """`plan.csv`: one row for every turn of a pin, in working order; what ends a pass is remarked in its last."""
    rows: list[PlanRow] = []
    for n, one in enumerate(plan.passes, start=1):
        rows += one[:-1]
        rows += [
            replace(row, remark=f"{row.remark} {closing(n, plan.checkpoint_n, len(plan.passes))}".strip())
            for row in one[-1:]
        ]
    return _csv(PLAN_COLUMNS, rows)


def load_csv(plan: Plan) -> str:
    """`load.csv`: one row for every string, lowest first."""
    return _csv(LOAD_COLUMNS, plan.load.strings)


def buy_csv(plan: Plan) -> str:
    """`buy.csv`: one row for every string to order, most urgent first."""
    return _csv(BUY_COLUMNS, plan.purchases)


def plan_json(plan: Plan) -> bytes:
    """Everything, indented, with a final newline: same plan, same bytes."""
    return msgspec.json.format(msgspec.json.encode(plan), indent=1) + b"\n"


def read_plan(file: Path) -> Plan:
    """Read `plan.json`. Raises UnusableInput where it is no plan, or of a later version."""
    try:
        head = read_json(file, dict)
        check_schema(head, SCHEMA, file)
        return msgspec.convert(head, Plan)
    except OSError as e:
        raise UnusableInput(f"{file}: cannot be read ({e.strerror}); give the folder that plan wrote.") from e
    except msgspec.MsgspecError as e:
        raise UnusableInput(f"{file}: not a plan this program can read ({e}).") from e


def _csv(columns: Mapping[str, Callable[[Any], str]], rows: Iterable[Row]) -> str:
    return csv_text(columns, ({name: cell(row) for name, cell in columns.items()} for row in rows))


PLAN_COLUMNS: dict[str, Callable[[PlanRow], str]] = {
    "pass": lambda r: str(r.pass_n),
    "order": lambda r: str(r.order),
    "string": lambda r: r.string,
    "from_cents": lambda r: fixed(r.from_cents, 1),
    "to_cents": lambda r: fixed(r.to_cents, 1),
    "to_hz": lambda r: f"{r.to_hz:.7g}",
    "tension_n_before": lambda r: fixed(r.tension_n_before, 1),
    "tension_n_after": lambda r: fixed(r.tension_n_after, 1),
    "remark": lambda r: as_text(r.remark),
    "kind": lambda r: r.kind,
    "most_cents": lambda r: fixed(r.most_cents, 1),
    "note": lambda r: r.note,
    "end_cents": lambda r: fixed(r.end_cents, 1),
}
"""Column -> its cell; from `kind` on, additions to the contract."""

LOAD_COLUMNS: dict[str, Callable[[StringLoad], str]] = {
    "string": lambda r: r.string,
    "tension_n": lambda r: fixed(r.tension_n, 1),
    "full_tension_n": lambda r: fixed(r.full_tension_n, 1),
    "share": lambda r: fixed(r.share, 4),
    "basis": lambda r: r.basis,
    "stress_mpa": lambda r: fixed(r.stress_mpa, 1),
    "breaking_share": lambda r: fixed(r.breaking_share, 3),
    "near_breaking": lambda r: str(r.near_breaking).lower(),
    "remark": lambda r: as_text(r.remark),
}
"""Column -> its cell; from `stress_mpa` on, additions to the contract."""

BUY_COLUMNS: dict[str, Callable[[Purchase], str]] = {
    "string": lambda r: r.string,
    "reason": lambda r: r.reason,
    "urgency": lambda r: r.urgency,
    "confidence": lambda r: fixed(r.confidence, 2),
    "price": lambda r: fixed(r.price, 2),
    "running_total": lambda r: fixed(r.running_total, 2),
    "harp_name": lambda r: r.harp_name,
    "material": lambda r: "" if r.material == "unknown" else r.material,
    "gauge_mm": lambda r: fixed(r.gauge_mm, 2) or "measure the old string",
    "stringing": lambda r: r.stringing,
    "remark": lambda r: as_text(r.remark),
}
"""Column -> its cell; from `harp_name` on, additions to the contract."""
