"""What the smaller pages share: a template, the style, and a policy that allows only what the file holds."""

import base64
import hashlib
from importlib import resources


def fill(
    template: str,
    *,
    styles: tuple[str, ...] = ("style.css", "pages.css"),
    scripts: tuple[str, ...] = (),
    **values: object,
) -> str:
    """The template of that name in this folder, filled; all that a person typed is escaped.

    Its Content-Security-Policy (W3C CSP 3) allows the page's own style and script and the sounds held in it, nothing
    else.
    """
    import jinja2

    style, script = "".join(map(own, styles)), "".join(map(own, scripts))
    environment = jinja2.Environment(
        loader=jinja2.FunctionLoader(own),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    policy = (
        f"default-src 'none'; style-src '{_hash(style)}'; script-src {repr(_hash(script)) if script else repr('none')};"
        " img-src data:; media-src data:; base-uri 'none'; form-action 'none'"
    )
    return environment.get_template(template).render(style=style, script=script, policy=policy, **values)


def own(name: str) -> str:
    """A file of this folder."""
    return resources.files("analyzer.report").joinpath(name).read_text("utf-8")


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
