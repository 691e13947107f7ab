"""Takes out of what a page shows the marks that turn writing about: no name turns a size round."""

from __future__ import annotations

import re
from typing import Final

from starlette.datastructures import Headers
from starlette.types import Message, Scope, Send

_MARKS: Final = re.compile(
    rb"\xe2\x80[\x8e\x8f\xaa-\xae]|\xe2\x81[\xa6-\xa9]|\\u20(?:0[ef]|2[a-e]|6[6-9])", re.IGNORECASE
)
"""U+200E, U+200F, U+202A to U+202E and U+2066 to U+2069 (Unicode Bidirectional Algorithm, UAX #9, 2), in
UTF-8 or as JSON spells them."""


def undirected(text: bytes) -> bytes:
    r"""*text* with U+FFFD in place of each such mark, and as long as before.

    >>> undirected("\u202e2.5 mm".encode()).decode()
    '\ufffd2.5 mm'
    """
    return _MARKS.sub(lambda found: b"\\ufffd" if len(found[0]) == 6 else b"\xef\xbf\xbd", text)


def without_marks(scope: Scope, send: Send) -> Send:
    """Sends a live stream, or what is worked out for a page, without them; nothing of what a form holds."""
    shows = scope.get("path", "") == "/_dash-update-component"

    async def sent(message: Message) -> None:
        nonlocal shows
        if message["type"] == "http.response.start":
            kind = Headers(raw=list(message.get("headers", []))).get("content-type", "")
            shows = shows or kind.startswith("text/event-stream")
        elif shows and message.get("body"):
            message = {**message, "body": undirected(message["body"])}
        await send(message)

    return sent
