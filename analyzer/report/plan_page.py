"""A plan as one printable HTML page to work from at the harp: self-contained, readable without scripts (it has
none), allowing by its Content-Security-Policy only its own style. All that a person typed is escaped."""

import base64
import hashlib
from importlib import resources

from analyzer import plan_words, words
from analyzer.notes import harp_octave
from analyzer.plan import Plan


def render(plan: Plan) -> str:
    """The page."""
    import jinja2

    style = _own("plan.css")
    environment = jinja2.Environment(
        loader=jinja2.FunctionLoader(_own),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("plan.html").render(
        p=plan,
        t=plan_words,
        w=words,
        harp_octave=harp_octave,
        title=words.shorten(plan.title, 80) or plan.layout_title,
        policy=f"default-src 'none'; style-src '{_hash(style)}'; base-uri 'none'; form-action 'none'",
        style=style,
    )


def _own(name: str) -> str:
    return resources.files("analyzer.report").joinpath(name).read_text("utf-8")


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
