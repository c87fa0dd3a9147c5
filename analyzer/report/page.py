"""What all pages share: a frame, the style, and a policy that allows only what the file holds."""

import base64
import hashlib
from functools import cache
from importlib import resources
from types import ModuleType
from typing import TYPE_CHECKING

from analyzer import words
from analyzer.restating import restated, restated_each
from analyzer.speech import Manner, Spoken, manner
from analyzer.spelling import typeset

if TYPE_CHECKING:
    import jinja2


def fill(
    template: str,
    *,
    styles: tuple[str, ...] = ("style.css",),
    scripts: tuple[str, ...] = ("script.js",),
    texts: ModuleType = words,
    date: str = "",
    made_at: str = "",
    **values: object,
) -> str:
    """The template of that name in this folder, filled in the manner of the moment; all that a person typed is escaped.

    `values` has at least `title` (what the page is about), `kind` (what sort of page) and `version` (of the program);
    `texts` is the module with the page's own words.
    """
    style, script = "".join(map(own, styles)), "".join(map(own, scripts))
    return (
        _environment(texts, manner())
        .get_template(template)
        .render(style=style, script=script, policy=_policy(style, script), date=date, made_at=made_at, **values)
    )


@cache
def _environment(texts: ModuleType, spoken: Manner) -> "jinja2.Environment":
    """Compiles each template once, which takes longer than filling it."""
    import jinja2

    environment = jinja2.Environment(
        loader=jinja2.FunctionLoader(own),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_typeset,
    )
    environment.globals.update(
        w=Spoken(words), t=Spoken(texts), manner=spoken, restated=restated, restated_each=restated_each
    )
    return environment


def _typeset(value: object) -> object:
    """What a template puts into the page; texts of several lines are those for scripts, and stay as they are."""
    return typeset(value) if type(value) is str and "\n" not in value else value


@cache
def own(name: str) -> str:
    """A file of this folder."""
    return resources.files("analyzer.report").joinpath(name).read_text("utf-8")


def csv_rows(text: str) -> list[str]:
    """A CSV text row by row, the heading first, so that a page can copy some of the rows."""
    rows, held = [], ""
    for line in text.split("\n")[:-1]:
        held += line + "\n"
        if held.count('"') % 2 == 0:
            rows.append(held)
            held = ""
    return rows


def _policy(style: str, script: str) -> str:
    """The Content-Security-Policy (W3C CSP 3): nothing but this style, this script, and images and sounds held in the
    file."""
    return (
        f"default-src 'none'; style-src '{_hash(style)}'; script-src '{_hash(script) if script else 'none'}';"
        " img-src data:; media-src data:; base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
