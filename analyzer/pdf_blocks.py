"""The blocks that a report on paper is made of, as data for report/paper.typ, which says how each kind looks."""

import re
from collections.abc import Iterable
from functools import cache
from typing import Any

from analyzer import words
from analyzer.restating import restated, restated_each
from analyzer.speech import say
from analyzer.spelling import typeset

Block = dict[str, Any]
WORD_N, HEADING_WORD_N = 40, 18
"""Longest stretch without a blank that is set as it is, letters; longer ones may be broken there."""


def heading(text: str, level: int = 1) -> Block:
    """A heading of the first or second level."""
    return {"kind": "heading", "text": broken(text, HEADING_WORD_N), "level": level}


def text_block(text: str, *, soft: bool = False, sticky: bool = False) -> Block:
    """`sticky`: it stays with what follows."""
    return {"kind": "text", "text": broken(text), "soft": soft, "sticky": sticky}


def items_list(items: Iterable[str], *, numbered: bool = False) -> Block:
    """A list of sentences."""
    return {"kind": "list", "items": [broken(item) for item in items], "numbered": numbered}


def facts(pairs: Iterable[tuple[str, str]], *, rows: bool = False) -> Block:
    """Names with their values, several on a line or one below the other."""
    return {"kind": "facts", "pairs": [[broken(a), broken(b)] for a, b in pairs], "rows": rows}


def table(caption: str, columns: Iterable[str], sides: str, rows: Iterable[Iterable[Any]], wide: int = -1) -> Block:
    """`sides` is one of l and r for every column; the column `wide` takes the room that is left.

    A row is a cell for every column, a text or states, or a remark on the row above.
    """
    cells = [
        row if isinstance(row, dict) else [broken(cell) if isinstance(cell, str) else cell for cell in row]
        for row in rows
    ]
    return {
        "kind": "table",
        "caption": typeset(caption),
        "columns": list(columns),
        "sides": list(sides),
        "rows": cells,
        "wide": wide,
    }


def state_of(key: str) -> dict[str, str]:
    """One state of a string: shape, word and colour."""
    state = words.STATES[key]
    return {"shape": state.shape, "word": say(state.word), "tone": state.tone}


def told(text: str) -> str:
    """A stage’s sentence in the language of the moment."""
    return restated(text).text


def told_each(text: str) -> str:
    """Several sentences that were put together."""
    return " ".join(one.text for one in restated_each(text))


def broken(text: str, most_n: int = WORD_N) -> str:
    """The text as it is set, with places to break (U+200B) in what is too long for a line."""
    return _long_word(most_n).sub(lambda found: found[0] + "\u200b", typeset(text))


@cache
def _long_word(most_n: int) -> re.Pattern[str]:
    return re.compile(rf"\S{{{most_n}}}(?=\S)")
