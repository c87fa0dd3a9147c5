"""What every page without scripts shares: a template, the style, and a policy that allows only what the file holds."""

import base64
import hashlib
from importlib import resources


def fill(template: str, **values: object) -> str:
    """The template of that name in this folder, filled; all that a person typed is escaped.

    Its Content-Security-Policy (W3C CSP 3) allows the page's own style and the sounds held in it, nothing else.
    """
    import jinja2

    style = own("style.css") + own("pages.css")
    environment = jinja2.Environment(
        loader=jinja2.FunctionLoader(own),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    policy = (
        f"default-src 'none'; style-src '{_hash(style)}'; img-src data:; media-src data:; base-uri 'none';"
        " form-action 'none'"
    )
    return environment.get_template(template).render(style=style, policy=policy, **values)


def own(name: str) -> str:
    """A file of this folder."""
    return resources.files("analyzer.report").joinpath(name).read_text("utf-8")


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
