"""Adds entries with surveys to a record until it is stopped, and says each that is safely in: for the kill test."""

import sys
from pathlib import Path

from analyzer import record


def main() -> None:
    folder, survey, date, number = Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3], int(sys.argv[4])
    for k in range(number):
        changed = survey / f"{date}-{k}"
        added = record.add(folder, record.Entry(date=date), survey=changed)
        sys.stdout.write(f"{added.id}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
