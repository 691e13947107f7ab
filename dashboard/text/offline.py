"""Words of a page that does not reach its dashboard, or is not let in."""

from __future__ import annotations

from typing import Final

OFFLINE_WORDS: Final[dict[str, str]] = {
    "offline.name": "Grinding to size",
    "offline.title": "The dashboard does not answer",
    "offline.why": "Nothing here is live. What the capture records does not depend on this screen.",
    "offline.do": (
        "Is the computer at the machine on, and this one in the same network? "
        "This page tries again by itself, and opens as soon as it gets an answer."
    ),
    "offline.again": "Try again now",
    "offline.refused": "This screen asks for its token",
    "offline.token": "Token",
    "offline.open": "Open",
    "offline.link": "It stands in the link that the dashboard printed, behind “token=”.",
}
