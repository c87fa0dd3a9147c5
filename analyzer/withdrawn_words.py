"""Every label and fixed text of the page that takes the place of a work order taken back, noted for translation."""

from analyzer.speech import mark

KIND = mark("Work order withdrawn")
STOP = mark("Do not work from the earlier work order")
FOUND = mark("What was found since: {found}")
HISTORICAL = mark("It was said since that this is a historical harp.")
ADVICE = mark(
    "Turn no pin. Ask a qualified harp technician to look at it. Once one has agreed, or if nothing was found after"
    " all, say so to harp-survey plan: it makes a new work order."
)
COPIES = mark(
    "This holds for every printed copy, calendar entry and tone made from it, and for the passes in a report: make that"
    " anew with harp-survey report."
)
