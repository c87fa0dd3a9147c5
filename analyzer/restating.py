"""The stages' own English sentences said again in another language: remarks, findings, doubts, settings.

A survey keeps its sentences in English, so that one file is the same whoever reads it. Here each is recognised by its
pattern, in which `{name}` stands for what changes, and the translated pattern is filled with the same words. What is
recognised inside those words is translated in turn (a reason within a remark); a bare number gets the language's
decimal sign. What is not recognised stays English and is marked as such, so that it is read out as English.
"""

import re
from functools import cache
from typing import NamedTuple

from analyzer.patterns import PATTERNS
from analyzer.speech import manner, say, say_for, say_many

_BLANK = re.compile(r"\{(\w+)\}")
_ALL = sorted(PATTERNS, key=lambda pattern: (_BLANK.search(pattern) is not None, pattern.startswith("{how}")))
"""Whole sentences first: they say more than a pattern that they happen to fit; last what a tuning ends with, which a
sentence that names the tuning would fit too."""
_SENTENCE_END = re.compile(r"(?<=[.!?]) (?=\S)")
_BARE_NUMBER = re.compile(r"[+\-−]?\d+\.\d+")
_ITEM = r"(?:[A-G][♭♯b#]*\d|\d[A-G][♭♯]*|\d+(?: to \d+)?)"
_STRING = re.compile(r"string (?P<name>\S+)")
_LIST = re.compile(rf"(?P<first>{_ITEM}(?:, {_ITEM})*) and (?P<last>{_ITEM}|(?P<more>\d+) more)")
"""Strings as `spelling.listed` and places as the reply name them."""
_NUMBER = r"\d+(?:\.\d+)?"
_NUMBERS = ("n", "m")
"""What these blanks stand for is a number."""
_NAMES = ("string", "taken", "chance")
"""What these stand for ends where the next of a row of reasons begins."""

_AS_IS = "column"
"""What this stands for is what a file is to say, in no language."""


class Restated(NamedTuple):
    """A sentence as it is shown."""

    text: str
    english: bool
    """True where it is left in English though another language is spoken."""


def restated(text: str) -> Restated:
    """The sentence in the language of the moment."""
    if manner().language == "en" or not text:
        return Restated(text=text, english=False)
    for pattern in _ALL:
        found = _recogniser(pattern).fullmatch(text)
        if found:
            return Restated(text=_filled(say(pattern), found.groupdict()), english=False)
    return Restated(text=text, english=True)


def restated_each(text: str) -> list[Restated]:
    """Sentences that were put together, each in the language of the moment."""
    if manner().language == "en" or not text:
        return [restated(text)]
    said: list[Restated] = []
    ends = [*(found.start() for found in _SENTENCE_END.finditer(text)), len(text)]
    begin = 0
    while begin < len(text):
        there = [end for end in ends if end > begin]
        known = next((end for end in there if not restated(text[begin:end].strip()).english), there[0])
        said.append(restated(text[begin:known].strip()))
        begin = known
    return said


def restated_error(text: str) -> str:
    """An error's sentence in the language of the moment; it may begin with the file, line or string it is about."""
    if manner().language == "en":
        return text
    for start in (*(colon.end() for colon in reversed(list(re.finditer(": ", text)))), 0):
        rest = text[start:]
        for sentence in (rest, rest[:1].upper() + rest[1:]):  # as it is first: it may begin with what somebody typed
            said = restated_each(sentence)
            if said and not any(one.english for one in said):
                places = (_placed(place) for place in text[:start].split(": "))
                return ": ".join(places) + " ".join(one.text for one in said)
    return text


def _placed(place: str) -> str:
    """Where something is: `line 2`, `string C4`, or a file."""
    if string := _STRING.fullmatch(place):
        return say("string {name}").format(name=string["name"])
    return restated(place).text


def _filled(pattern: str, values: dict[str, str]) -> str:
    return _BLANK.sub(lambda blank: values[blank[1]] if blank[1] == _AS_IS else _part(values[blank[1]]), pattern)


def _part(value: str) -> str:
    if _BARE_NUMBER.fullmatch(value):
        return value.replace(".", say_for("decimal sign", "."))
    if listed := _LIST.fullmatch(value):
        last = listed["last"]
        if more := listed["more"]:
            last = say_many("{n} more", "{n} more", int(more))
        parts = [restated(one).text for one in (*listed["first"].split(", "), last)]
        return f"{', '.join(parts[:-1])} {say('and')} {parts[-1]}"
    whole = restated(value)
    if whole.english and "; " in value:
        return "; ".join(_part(one) for one in value.split("; "))
    return whole.text


def _blank(name: str) -> str:
    if name in _NUMBERS:
        return _NUMBER
    return "[^;]+?" if name in _NAMES else ".+?"


@cache
def _recogniser(pattern: str) -> re.Pattern[str]:
    pieces = _BLANK.split(pattern)  # literal text and names of blanks in turn
    return re.compile(
        "".join(f"(?P<{piece}>{_blank(piece)})" if k % 2 else re.escape(piece) for k, piece in enumerate(pieces)),
        re.DOTALL,
    )
