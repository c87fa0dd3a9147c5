"""Days and times as the command line takes and gives them (the only clock of the program)."""

import os
from datetime import UTC, date, datetime

from analyzer.errors import UnusableInput
from analyzer.spreadsheet import dashed


def now() -> str:
    """The present moment, ISO 8601, in UTC; SOURCE_DATE_EPOCH in its place where that is set."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH")
    moment = datetime.fromtimestamp(int(epoch), UTC) if epoch and epoch.isdigit() else datetime.now(UTC)
    return moment.isoformat(timespec="seconds")


def day(text: str) -> str:
    """A day as it was given, checked; empty stays empty. Raises UnusableInput."""
    if not text:
        return ""
    try:
        return date.fromisoformat(dashed(text)).isoformat()
    except ValueError as e:
        raise UnusableInput(f"{text!r} is no day; write it as 2026-03-01 (year-month-day).") from e
