"""Which language people are spoken to in, and how octaves are counted: the one ambient setting of all that renders.

Texts are written in English where they are used and looked up by gettext, so that a missing translation reads
as English rather than not at all. `mark` says that a text is to be translated without doing it, for the
tables of constants in `words`; `spoken` gives such a module with everything in it translated. Whoever writes
files for people opens `speaking(...)` around it; nothing that measures ever looks here. Catalogues lie in
locale/<language>/LC_MESSAGES/survey.po, with the .mo that Python reads beside each
(`python -m tests.make_catalogs` renews both).
"""

import gettext as gnu
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, fields, is_dataclass, replace
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

LANGUAGES = ("en", "de")
LOCALE = Path(__file__).with_name("locale")
DOMAIN = "survey"


@dataclass(frozen=True, slots=True, kw_only=True)
class Manner:
    """How people are spoken to."""

    language: str = "en"
    """One of LANGUAGES, an ISO 639-1 code."""
    harp_octaves: bool = False
    """True: octaves counted from the top as harpists do (`5C`); False: scientific pitch notation (`C3`)."""


PLAIN = Manner()
_manner: ContextVar[Manner] = ContextVar("manner", default=PLAIN)


@contextmanager
def speaking(manner: Manner) -> Iterator[None]:
    """All that is rendered inside is in this manner."""
    token = _manner.set(manner)
    try:
        yield
    finally:
        _manner.reset(token)


def manner() -> Manner:
    """The manner of the moment."""
    return _manner.get()


def say(text: str) -> str:
    """The text in the language of the moment."""
    return _catalogue(_manner.get().language).gettext(text) if text else ""


def say_for(context: str, text: str) -> str:
    """A short text that needs its context to be translated."""
    return _catalogue(_manner.get().language).pgettext(context, text)


def say_many(one: str, many: str, n: int) -> str:
    """The form of a text that goes with this number, with `{n}` filled in."""
    return _catalogue(_manner.get().language).ngettext(one, many, n).replace("{n}", str(n))


def mark(text: str) -> str:
    """The same text, noted for translation."""
    return text


@cache
def _catalogue(language: str) -> gnu.NullTranslations:
    if language == "en":
        return gnu.NullTranslations()
    return gnu.translation(DOMAIN, LOCALE, [language])


class Spoken:
    """A module's constants in the language of the moment, its functions as they are."""

    def __init__(self, module: ModuleType) -> None:
        self._module = module

    def __getattr__(self, name: str) -> Any:
        return _translated(getattr(self._module, name), say)


def _translated(value: Any, translate: Callable[[str], str]) -> Any:
    if isinstance(value, str):
        return translate(value)
    if isinstance(value, tuple):
        return tuple(_translated(one, translate) for one in value)
    if isinstance(value, dict):
        return {key: _translated(one, translate) for key, one in value.items()}
    if is_dataclass(value) and not isinstance(value, type):
        return replace(value, **{f.name: _translated(getattr(value, f.name), translate) for f in fields(value)})
    return value
