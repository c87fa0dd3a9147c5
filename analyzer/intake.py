"""Intake: what is to be surveyed in one batch, each instrument with its recordings and its setting, checked.

Task: what was written of an instrument (a line of a manifest, the names in a folder) and what was said for all ->
an Item, or every problem at once.

Conventions: an instrument is known by its name and its recordings as they were written (`Item.key`), never by a
name made fit for a file system: "Hall 1" and "Hall-1" stay two harps. What would be one harp twice, or one recording
of two harps, is a problem, and nothing is started.
"""

import hashlib
import json
import os
import re
import unicodedata
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from analyzer.errors import UnusableInput
from analyzer.layout import Layout, load_layout
from analyzer.notes import string_named
from analyzer.request import Request
from analyzer.settings import BatchSettings
from analyzer.spreadsheet import day as calendar_day
from analyzer.tuning import Tuning, make_tuning, parse_key

_DEFAULTS = BatchSettings()
_ADDRESS = re.compile(r"[A-Za-z][A-Za-z0-9+.-]+://")


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """What was written of one instrument, or said for all; empty where nothing was."""

    layout: str = ""
    tuning: str = ""
    a4: str = ""
    levers: str = ""
    pedals: str = ""
    missing: str = ""
    date: str = ""
    place: str = ""
    humidity: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One instrument to be surveyed, ready for a worker."""

    instrument: str
    """Its name, on one line."""
    recordings: tuple[str, ...]
    """Paths or fsspec addresses (with `://`), as a worker opens them."""
    names: tuple[str, ...]
    """The same as they were written, on one line each: what tables show."""
    layout: Layout
    tuning: Tuning
    missing: tuple[str, ...] | None
    """None where nothing was said."""
    date: str
    place: str
    humidity: str
    note: str
    said: dict[str, str]
    """As `Request.said`."""
    key: str
    """Name of its results folder: part of its name, for people, and a fingerprint of name and recordings."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A batch before work: what can be started, and what cannot."""

    items: tuple[Item, ...]
    refused: tuple[tuple[str, str], ...] = ()
    """(recording, reason) of recordings that are not opened at all."""
    passed_over_n: int = 0
    """Files that are no recordings by their names."""


def one_line(text: str) -> str:
    """A text as one line that prints, whatever was in it."""
    return "".join(c if c.isprintable() else "?" for c in text)


def is_address(recording: str) -> bool:
    """Whether a recording is an fsspec address and not a path."""
    return _ADDRESS.match(recording) is not None


def make_item(
    instrument: str,
    recordings: Sequence[str],
    names: Sequence[str],
    words: Words,
    common: Words,
    settings: BatchSettings = _DEFAULTS,
) -> tuple[Item | None, list[tuple[str, str]]]:
    """An Item, or (column, sentence) for each problem. `common` serves where `words` says nothing and it fits."""
    problems: list[tuple[str, str]] = []

    @contextmanager
    def checking(column: str) -> Iterator[None]:
        try:
            yield
        except UnusableInput as e:
            problems.append((column, str(e)))

    layout: Layout | None = None
    tuning: Tuning | None = None
    missing: tuple[str, ...] | None = None
    day, a4_hz = "", 440.0
    with checking("layout"):
        layout = _layout(words.layout or common.layout)
    with checking("date"):
        day = calendar_day(words.date or common.date)
    with checking("humidity"):
        _check_humidity(words.humidity or common.humidity)
    with checking("a4"):
        a4_hz = _a4_hz(words.a4 or common.a4)
    key = words.tuning or common.tuning or None
    with checking("tuning"):
        if key is not None:
            parse_key(key)
    if layout is not None:
        levers = words.levers or (common.levers if layout.kind == "lever" else "") or None
        pedals = words.pedals or (common.pedals if layout.kind == "pedal" else "") or None
        with checking("missing"):
            missing = _missing(words.missing or common.missing, layout)
        if not problems:
            with checking("levers" if levers else "pedals" if pedals else "tuning"):
                tuning = make_tuning(layout, key, a4_hz=a4_hz, levers=levers, pedals=pedals)
    if layout is None or tuning is None or problems:
        return None, problems
    said = {
        "layout": Path(words.layout or common.layout).name,
        "tuning": key or "",
        "levers": levers or "",
        "pedals": pedals or "",
        "missing": words.missing or common.missing,
        "humidity": words.humidity or common.humidity,
        "a4": "" if a4_hz == 440.0 else f"{a4_hz:g}",
    }
    item = Item(
        instrument=one_line(instrument),
        recordings=tuple(recordings),
        names=tuple(one_line(name) for name in names),
        layout=layout,
        tuning=tuning,
        missing=missing,
        date=day,
        place=words.place or common.place,
        humidity=words.humidity or common.humidity,
        note=words.note or common.note,
        said={option: text for option, text in said.items() if text},
        key=identity(instrument, names, settings),
    )
    return item, []


def identity(instrument: str, names: Sequence[str], settings: BatchSettings = _DEFAULTS) -> str:
    """The results folder of an instrument: safe on every file system, different for every name and recording."""
    whole = json.dumps([instrument, *names]).encode("ascii")
    plain = unicodedata.normalize("NFKD", instrument).encode("ascii", "ignore").decode("ascii").lower()
    slug = re.sub(r"[^a-z0-9]+", "-", plain)[: settings.slug_n].strip("-") or "harp"
    return f"{slug}-{hashlib.sha256(whole).hexdigest()[: settings.key_n]}"


def collisions(items: Sequence[tuple[str, Item]]) -> list[tuple[str, str]]:
    """(where, sentence) for every item that would be an earlier one over again; `items` come with where they stand."""
    problems: list[tuple[str, str]] = []
    names: dict[tuple[str, str], str] = {}
    paths: dict[str, tuple[str, str]] = {}
    keys: dict[str, str] = {}
    for where, item in items:
        earlier = names.setdefault((item.instrument, item.date), where)
        if earlier != where:
            problems.append(
                (
                    where,
                    f"the instrument {item.instrument!r} stands at {earlier} too, with the same date; give two harps"
                    " two names, and put the recordings of one harp into one line, parted by ';'.",
                )
            )
        elif keys.setdefault(item.key, where) != where:
            problems.append((where, f"{item.instrument!r} cannot be told from {keys[item.key]}; rename one of them."))
        for recording, name in zip(item.recordings, item.names, strict=True):
            real = recording if is_address(recording) else os.path.normcase(os.path.realpath(recording))
            at, other = paths.setdefault(real, (where, item.instrument))
            if (at, other) != (where, item.instrument):
                problems.append((where, f"the recording {name!r} is that of {other!r} at {at} already."))
    return problems


def request_of(item: Item, recordings: Sequence[Path]) -> Request:
    """What the analysis is asked. No time is put into the results of a batch: same input, same bytes."""
    return Request(
        recordings=tuple(recordings),
        layout=item.layout,
        tuning=item.tuning,
        title=item.instrument,
        date=item.date,
        missing=None if item.missing is None else frozenset(item.missing),
        said=item.said,
    )


def _layout(name: str) -> Layout:
    if not name:
        raise UnusableInput("no layout is given; name it here, or --layout for all (harp-survey layouts lists them).")
    return load_layout(name)


def _check_humidity(text: str) -> None:
    try:
        if text and not 0 <= float(text.removesuffix("%")) <= 100:
            raise ValueError
    except ValueError as e:
        raise UnusableInput(f"{text!r} is no relative humidity; write a number from 0 to 100.") from e


def _a4_hz(text: str) -> float:
    try:
        return float(text) if text else 440.0
    except ValueError as e:
        raise UnusableInput(f"{text!r} is no frequency; write A4 in Hz, such as 440 or 442.") from e


def _missing(text: str, layout: Layout) -> tuple[str, ...] | None:
    if not text:
        return None
    if text.lower() == "none":
        return ()
    return tuple(string_named(part, layout) for part in re.split(r"[,;]", text) if part.strip())
