"""The reply to a beginner as one HTML page, with the tones to listen to inside it."""

import base64

from analyzer import words
from analyzer.reply import FoundString, Reply
from analyzer.report.page import fill
from analyzer.settings import ReplySettings, ReportSettings

_TITLE_N = ReportSettings().title_n


def render(reply: Reply, settings: ReplySettings) -> str:
    """The page."""
    return fill(
        "reply.html",
        r=reply,
        w=words,
        title=words.shorten(reply.title, _TITLE_N) or words.NO_TITLE,
        tone=lambda found: _tone(found, settings),
    )


def _tone(found: FoundString, settings: ReplySettings) -> str:
    """A plucked tone at the string's target as a data address."""
    from analyzer.tones import tone, wav

    return "data:audio/wav;base64," + base64.b64encode(wav(tone(found.target_hz, settings.tone_s))).decode("ascii")
