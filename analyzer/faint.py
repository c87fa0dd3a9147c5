"""Where a string that was not heard may have been plucked too softly.

Task. The plucks of a recording with their strings, and the faint rises between them -> for each string without a pluck,
the moment of a faint rise about where its pluck would be, if there is one. Nothing is claimed of it: it may have been a
hand. The person is asked to record that string again, louder.

Method. Between the last pluck of the nearest string heard before it in the row and the first of the nearest after it,
the strings not heard have their places at even distances; at either end of the row the usual time from pluck to pluck
counts on. A faint rise belongs to the place it is nearest to, within a share of that distance. A person who passes over
a string leaves no time for it: where the gap is hardly longer than usual, there is no place.

Conventions. Strings are indices into the layout, lowest first, and have their turn in the order of plucking; times are
seconds from the start of the recording.
"""

from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise
from statistics import median

import numpy as np
from numpy.typing import NDArray

from analyzer.hearing import Hearing
from analyzer.settings import FaintSettings


def faint_places(
    hearing: Hearing, expected: Sequence[int], unheard: Collection[int], settings: FaintSettings
) -> dict[int, float]:
    """Moment of the faint rise in the place of each string that was heard nowhere, where there is one.

    `expected`: the strings that are on the harp as far as is known, lowest first; `unheard`: some of them.
    """
    if hearing.matching.order == "any":
        return {}
    inwards = expected if hearing.matching.order == "up" else expected[::-1]
    turn = {k: i for i, k in enumerate(inwards)}
    row = _row(hearing, turn)
    if not hearing.faint_s or len(row) < 2 or not unheard:
        return {}
    found = {}
    turns = np.sort([turn[k] for k in unheard])
    for run in np.split(turns, np.flatnonzero(np.diff(turns) > 1) + 1):
        start, stop = _bounds(run, row, len(inwards), settings)
        if start is None or stop is None:
            continue
        step_s = (stop - start) / (len(run) + 1)
        if step_s < settings.least_step_share * _usual_step_s(row, start, settings):
            continue
        for i, at in enumerate(run, start=1):
            place_s = start + i * step_s
            near_s = hearing.faint_s[int(np.abs(np.subtract(hearing.faint_s, place_s)).argmin())]
            if abs(near_s - place_s) <= settings.near_share * step_s:
                found[inwards[at]] = near_s
    return found


def _row(hearing: Hearing, turn: Mapping[int, int]) -> list[tuple[float, int]]:
    """(onset, the string's turn) of every pluck but those that fell back to an earlier string, in time order."""
    own = [(p.pluck.onset_s, p.string) for p in hearing.plucks if p.string is not None and not p.slip]
    return [(onset_s, turn[k]) for onset_s, k in own if k in turn]


def _bounds(
    run: NDArray[np.int64], row: list[tuple[float, int]], turns_n: int, settings: FaintSettings
) -> tuple[float | None, float | None]:
    """The plucks before and after a run; reckoned at the ends of the row."""
    start = max((t for t, k in row if k == run[0] - 1), default=None)
    stop = min((t for t, k in row if k == run[-1] + 1), default=None)
    if run[0] == 0 and stop is not None:
        start = stop - (len(run) + 1) * _usual_step_s(row, stop, settings)
    if run[-1] == turns_n - 1 and start is not None:
        stop = start + (len(run) + 1) * _usual_step_s(row, start, settings)
    return start, stop


def _usual_step_s(row: list[tuple[float, int]], near_s: float, settings: FaintSettings) -> float:
    """Half of the plucks nearest to a moment follow one another sooner than this."""
    steps = [(abs(t - near_s), t - before) for (before, _), (t, _) in pairwise(row)]
    return median(step for _, step in sorted(steps)[: settings.steps_n])
