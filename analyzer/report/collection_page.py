"""A collection as one HTML file: which harps to work on first, and why; what could not be used; what to buy.

Self-contained, readable with scripts off (they only sort and filter), light for a thousand instruments: a row is some
hundred bytes, its chart one path. Its Content-Security-Policy allows only its own style and script. All that a person
typed is escaped.
"""

from collections import Counter
from urllib.parse import quote

from analyzer import collection_tables, collection_words, plan_words, spelling
from analyzer.collection_tables import Collection
from analyzer.report.page import csv_rows, fill
from analyzer.settings import BatchSettings
from analyzer.speech import Spoken, say
from analyzer.triage import NEEDS, Line

SETTINGS = BatchSettings()
SPARK_BOX = (120.0, 24.0)

NEED_SIGNS = {
    "too tight": ("▲", "bad"),
    "settle first": ("?", "open"),
    "record again": ("○", "open"),
    "strings missing": ("✕", "bad"),
    "slack": ("▼", "bad"),
    "worn strings": ("■", "bad"),
    "tuning": ("◇", "open"),
    "nothing": ("●", "good"),
}
"""Need -> (shape, tone): never colour alone."""


def render(collection: Collection, version: str) -> str:
    """The page."""
    needs = Counter(row.line.need for row in collection.rows)
    layouts = sorted({row.line.layout for row in collection.rows})
    places = sorted({row.item.place for row in collection.rows if row.item.place})
    return fill(
        "collection.html",
        styles=("style.css", "collection.css"),
        texts=collection_words,
        title=say(collection_words.TITLE),
        kind=say(collection_words.KIND),
        version=version,
        c=collection,
        plan=Spoken(plan_words),
        needs=[(need, needs[need]) for need in NEEDS if needs[need]],
        signs=NEED_SIGNS,
        rank={need: k for k, need in enumerate(NEEDS)},
        layouts=list(zip(layouts, layouts, strict=True)),
        places=list(zip(places, places, strict=True)),
        spark=spark,
        box=SPARK_BOX,
        quote=quote,
        edge=SETTINGS.spark_cents,
        names=lambda names: spelling.listed(list(names), SETTINGS.names_n),
        total=round(sum(row.line.purchase_total or 0.0 for row in collection.rows), 2),
        unpriced_n=sum(row.line.unpriced_n for row in collection.rows),
        csv={
            "instruments": csv_rows(collection_tables.instruments_csv(collection)),
            "buy": csv_rows(collection_tables.buy_csv(collection)),
        },
    )


def spark(line: Line) -> str:
    """The harp's deviations as one path of upright strokes from the middle line, lowest string at the left."""
    width, height = SPARK_BOX
    step = width / max(len(line.spark_cents), 1)
    return "".join(
        f"M{step * (k + 0.5):.3g},{height / 2:g}v{-cents / SETTINGS.spark_cents * height / 2 or 0.5:.3g}"
        for k, cents in enumerate(line.spark_cents)
        if cents is not None
    )
