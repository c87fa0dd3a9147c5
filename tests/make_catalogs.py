"""`python -m tests.make_catalogs`: the catalogues renewed from the texts in the code.

New texts come in untranslated, those gone go out, a translation whose text changed a little is kept and marked fuzzy
for a person to look at. Then each catalogue is compiled for Python to read. A test says what is left to translate.
"""

import io
import sys
from pathlib import Path

from babel.messages import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from analyzer.speech import DOMAIN, LANGUAGES, LOCALE

ROOT = Path(__file__).parent.parent / "analyzer"
KEYWORDS = {"say": None, "mark": None, "say_for": ((1, "c"), 2), "say_many": (1, 2)}


def texts() -> Catalog:
    """Every text in the code that is to be translated."""
    template = Catalog(fuzzy=False)
    for name, line, text, comments, context in extract_from_dir(str(ROOT), [("**.py", "python")], keywords=KEYWORDS):
        del line  # would change with every edit
        template.add(text, locations=[(f"analyzer/{name}", None)], auto_comments=comments, context=context)
    return template


def catalogue(language: str) -> Catalog:
    """The translations as they are."""
    file = LOCALE / language / "LC_MESSAGES" / f"{DOMAIN}.po"
    if not file.exists():
        return Catalog(locale=language)
    with file.open("rb") as handle:
        return read_po(handle, locale=language)


def compiled(one: Catalog) -> bytes:
    out = io.BytesIO()
    write_mo(out, one)
    return out.getvalue()


def main() -> int:
    for language in LANGUAGES[1:]:
        folder = LOCALE / language / "LC_MESSAGES"
        folder.mkdir(parents=True, exist_ok=True)
        one = catalogue(language)
        one.update(texts(), update_creation_date=False)
        one.obsolete.clear()
        out = io.BytesIO()
        write_po(out, one, width=110, sort_by_file=True, omit_header=False)
        (folder / f"{DOMAIN}.po").write_bytes(out.getvalue())
        (folder / f"{DOMAIN}.mo").write_bytes(compiled(one))
        left = [message.id for message in one if message.id and (message.fuzzy or not message.string)]
        sys.stdout.write(f"{language}: {len(one)} texts, {len(left)} to translate\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
