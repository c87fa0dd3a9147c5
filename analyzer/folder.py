"""A folder of recordings as a batch: every recording in it and its subfolders, by their names.

Conventions: an instrument's name is the recording's path from the folder, without its ending. A folder or file name
may hold the name of a layout (`lever-34`), a key (`E-flat`) and a day (`2026-03-01`), as words of their own between
spaces, underscores or brackets: they count for what they name, the file's before its folder's. `part 1`, `part 2` at
the end of names gather the parts of one harp. Hidden files and folders are passed over, and so are files that are no
recordings by their endings. What is only a link to a place outside the folder is not opened.
"""

import os
import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path, PurePath

from analyzer.errors import UnusableInput
from analyzer.intake import Found, Item, Words, collisions, make_item, one_line
from analyzer.layout import layout_names
from analyzer.settings import BatchSettings

ENDINGS = frozenset(
    ".3g2 .3gp .aac .ac3 .aif .aifc .aiff .amr .au .avi .caf .flac .m4a .m4v .mkv .mov .mp3 .mp4 .mpg .mpeg .oga .ogg"
    " .opus .snd .w64 .wav .wave .webm .wma".split()
)
_PART = re.compile(r"[ _-]*\bpart[ _-]?([0-9]+)$", re.I)
_KEY = re.compile(r"[A-G]-(?:flat|sharp|major|minor)", re.I)
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_BETWEEN = re.compile(r"[\s_()\[\]{},]+")
_DEFAULTS = BatchSettings()


def read_folder(folder: Path, common: Words, settings: BatchSettings = _DEFAULTS) -> Found:
    """Every recording in a folder. Raises UnusableInput that lists every problem, one a line."""
    files, refused, passed_over_n = _recordings(folder, settings)
    if not files and not refused:
        raise UnusableInput(f"{one_line(str(folder))}: no recording is in it; give the folder that they are in.")
    parts: dict[str, list[tuple[int, PurePath]]] = {}
    for name in files:
        stem = name.with_suffix("").as_posix()
        part = _PART.search(stem)
        whole = stem[: part.start()] if part and stem[: part.start()].rpartition("/")[2] else stem
        parts.setdefault(whole if part else stem, []).append((int(part[1]) if part else 0, name))
    layouts = _layout_words()
    problems: list[tuple[str, str]] = []
    items: list[tuple[str, Item]] = []
    for instrument, numbered in parts.items():
        names = [name.as_posix() for _, name in sorted(numbered)]
        where = one_line(names[0])
        if len({number for number, _ in numbered}) < len(numbered):
            what = f"by its name it is the same harp as {one_line(names[1])}; rename one, or write a manifest."
            problems.append((where, what))
            continue
        words = _words(PurePath(instrument), layouts)
        item, wrong = make_item(instrument, [str(folder / n) for n in names], names, words, common, settings)
        problems += [(where, what) for _, what in wrong]
        if item is not None:
            items.append((where, item))
    problems += collisions(items)
    if problems:
        count = "One problem" if len(problems) == 1 else f"{len(problems)} problems"
        lines = [f"{where}: {what}" for where, what in problems]
        raise UnusableInput("\n  ".join([f"{one_line(str(folder))}: nothing was started. {count}:", *lines]))
    return Found(items=tuple(item for _, item in items), refused=refused, passed_over_n=passed_over_n)


def _recordings(folder: Path, settings: BatchSettings) -> tuple[list[PurePath], tuple[tuple[str, str], ...], int]:
    """Paths from the folder, in order; (recording, reason) of links out of it; how many other files there are."""
    home = Path(os.path.realpath(folder))
    found: list[PurePath] = []
    refused: list[tuple[str, str]] = []
    passed_over_n = 0
    for seen_n, path in enumerate(_walk(folder), start=1):
        if seen_n > settings.folder_files_n:
            raise UnusableInput(f"{one_line(str(folder))}: more than {settings.folder_files_n} files; split it.")
        name = path.relative_to(folder)
        if path.suffix.lower() not in ENDINGS:
            passed_over_n += 1
        elif not Path(os.path.realpath(path)).is_relative_to(home):
            reason = "A link to a place outside the folder, which is not followed; copy the recording into the folder."
            refused.append((one_line(name.as_posix()), reason))
        else:
            found.append(name)
    return found, tuple(refused), passed_over_n


def _walk(folder: Path) -> Iterator[Path]:
    """Every file that is not hidden, in the order of names; folders that are links are not entered."""
    for home, folders, files in os.walk(folder):
        folders[:] = sorted(f for f in folders if not f.startswith("."))
        yield from (Path(home) / f for f in sorted(files) if not f.startswith("."))


def _layout_words() -> frozenset[str]:
    names = layout_names()
    return frozenset(names) | {"-".join(name.split("-")[:2]) for name in names}


def _words(name: PurePath, layouts: frozenset[str]) -> Words:
    """What the names of a recording and its folders say, the innermost first."""
    said: dict[str, str] = {}
    for word in (word for part in reversed(name.parts) for word in _BETWEEN.split(part)):
        if word in layouts:
            said.setdefault("layout", word)
        elif _KEY.fullmatch(word):
            said.setdefault("tuning", word.replace("-major", "").replace("-minor", " minor"))
        elif _DAY.fullmatch(word) and _is_day(word):
            said.setdefault("date", word)
    return Words(**said)


def _is_day(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True
