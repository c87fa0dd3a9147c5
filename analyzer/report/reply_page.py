"""The reply to a beginner as one HTML page, with the tones to listen to inside it."""

import base64

from analyzer import reply_words, words
from analyzer.reply import Reply
from analyzer.report.page import fill
from analyzer.settings import ReplySettings, ReportSettings
from analyzer.speech import say
from analyzer.whereabouts import FoundString

_TITLE_N = ReportSettings().title_n


def render(reply: Reply, settings: ReplySettings) -> str:
    """The page."""
    return fill(
        "reply.html",
        styles=("style.css", "pages.css"),
        scripts=(),
        texts=reply_words,
        title=words.shorten(reply.title, _TITLE_N) or say(words.NO_TITLE),
        kind=say(reply_words.KIND),
        date=reply.date,
        version="",
        r=reply,
        tone=lambda found: _tone(found, settings),
    )


def _tone(found: FoundString, settings: ReplySettings) -> str:
    """A plucked tone at the string's target as a data address."""
    from analyzer.tones import tone, wav

    return "data:audio/wav;base64," + base64.b64encode(wav(tone(found.target_hz, settings.tone_s))).decode("ascii")
