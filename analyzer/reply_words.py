"""Every label and fixed text of the reply to a beginner, noted for translation; what there is to do is worded by
`reply` and said again by `restating`."""

from analyzer.speech import mark

KIND = mark("What to do next")
FROM, YOUR_TEACHER = mark("From {name}"), mark("your teacher")
PINS = mark("Who may turn pins")
ORDER, NOTHING = mark("In this order"), mark("Nothing to do")
IN_TUNE = mark("The harp is in good tune, and every string was heard. Record it again in a week.")
NOW = mark("{where}: now {turn}")
DISPLAY = mark("the display must show")
"""Of a string that is to be tuned; of any other:"""
IN_TUNE_SHOWS = mark("in tune, a display shows")
TONE = mark("The tone {show}")
MORE = (
    mark("One more thing can wait until these are done and the harp is recorded again."),
    mark("{n} more things can wait until these are done and the harp is recorded again."),
)
TERMS = mark("Words used")
