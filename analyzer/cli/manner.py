"""How people are spoken to: the words that all commands share which write pages."""

import argparse
import sys
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analyzer.speech import Manner


def add(words: "argparse.ArgumentParser | argparse._ArgumentGroup") -> None:
    """`--language` and `--harp-octaves`."""
    add_language(words)
    words.add_argument("--harp-octaves", action="store_true", help="count octaves in it as harpists do: 5C for C3")


def add_language(words: "argparse.ArgumentParser | argparse._ArgumentGroup") -> None:
    """`--language` alone, of a command that names no string."""
    words.add_argument("--language", choices=("en", "de"), default="en", help="language of what is written (en)")


def folder(text: str) -> Path:
    """A folder to write into, as a type for argparse: named, since "" would mean the folder one happens to be in."""
    if not text.strip():
        raise argparse.ArgumentTypeError("name a folder for the results")
    try:
        Path(text).is_dir()
    except OSError as e:
        raise argparse.ArgumentTypeError(f"{e.strerror}; name another folder for the results") from e
    return Path(text)


def humidity_percent(text: str) -> float:
    """Relative humidity, "45" or "45 %", as a type for argparse."""
    return _within(text, "%", (0.0, 100.0), "relative humidity; give 0 to 100, in per cent")


def temperature_c(text: str) -> float:
    """A room's temperature, "19", "19,5" or "19 °C", as a type for argparse."""
    return _within(text, "°C", (-40.0, 60.0), "temperature of a room; give degrees Celsius")


def _within(text: str, unit: str, limits: tuple[float, float], wanted: str) -> float:
    try:
        value = float(text.strip().removesuffix(unit).replace(",", "."))
    except ValueError:
        value = float("nan")
    if not limits[0] <= value <= limits[1]:
        raise argparse.ArgumentTypeError(f"{text!r} is no {wanted}")
    return value


def of(words: argparse.Namespace) -> "Manner":
    """What was asked for; English of a command that has no such words."""
    from analyzer.speech import Manner

    return Manner(language=getattr(words, "language", "en"), harp_octaves=getattr(words, "harp_octaves", False))


def tell_page(page: Path) -> None:
    """Say where the page is that was written, in the language of the moment."""
    from analyzer.speech import say

    sys.stderr.write(say("The page to open: {page}").format(page=page) + "\n")


def spoken(words: argparse.Namespace) -> "AbstractContextManager[None]":
    """All that is rendered inside is spoken like that."""
    from analyzer.speech import speaking

    return speaking(of(words))
