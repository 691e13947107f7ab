"""The addresses for others in the shop: one to watch, one to speak; as codes for a phone's camera."""

from __future__ import annotations

import io
from urllib.parse import quote

import segno
from msgspec import Struct

from dashboard.text.screen import word
from dashboard.web.access.listening import own_address


class Share(Struct, frozen=True):
    """Addresses with their tokens; empty where only this machine can reach the dashboard."""

    watch: str = ""
    """For who may see and not speak."""
    speak: str = ""
    fingerprint: str = ""
    """Of the certificate, to be compared with what the browser shows; empty over plain HTTP."""


def share_of(host: str, port: int, *, token: str, viewer: str, fingerprint: str = "") -> Share:
    """The addresses of a dashboard that others can reach; over TLS with the *fingerprint* shown."""
    name = host if host not in {"0.0.0.0", "::"} else own_address()  # noqa: S104 - compared, not bound
    name = f"[{name}]" if ":" in name else name
    scheme = "https" if fingerprint else "http"
    watch, speak = (f"{scheme}://{name}:{port}/?token={quote(one, safe='')}" for one in (viewer, token))
    return Share(watch, speak, fingerprint)


def picture(address: str) -> str:
    """The code of an address as a picture in a ``data:`` address."""
    return str(segno.make(address, micro=False, error="m").svg_data_uri(scale=6, border=4, light="#fff"))


def in_terminal(share: Share) -> str:
    """The code to watch, and both addresses, for a terminal."""
    drawn = io.StringIO()
    segno.make(share.watch, micro=False, error="l").terminal(out=drawn, compact=True)
    watch, speak = word("share.watch"), word("share.speak")
    return f"{drawn.getvalue()}\n{watch}: {share.watch}\n{speak}: {share.speak}\n"


def certificate_line(fingerprint: str) -> str:
    """The fingerprint of the certificate, for a terminal; nothing over plain HTTP."""
    return f"{word('share.fingerprint', fingerprint=fingerprint)}\n" if fingerprint else ""
