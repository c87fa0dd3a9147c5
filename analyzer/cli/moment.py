"""The only clock of the program."""

import os
from datetime import UTC, datetime


def now() -> str:
    """The present moment, ISO 8601, in UTC; SOURCE_DATE_EPOCH in its place where that is set."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH")
    moment = datetime.fromtimestamp(int(epoch), UTC) if epoch and epoch.isdigit() else datetime.now(UTC)
    return moment.isoformat(timespec="seconds")
