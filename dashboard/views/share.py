"""The page Share: codes that a phone scans to watch, or to speak."""

from __future__ import annotations

from typing import Any

from dash import html
from dash.development.base_component import Component

from dashboard.text.screen import word
from dashboard.views.elements.boxes import box


def share_page() -> list[Component]:
    """A place for the codes, which depend on who asks."""
    return [html.Div(id="share-body", className="page-body")]


def share_body(codes: dict[str, tuple[str, str]], fingerprint: str = "") -> list[Any]:
    """The codes by what they are for (``watch``, ``speak``): address and picture; the TLS fingerprint."""
    if not codes:
        return [box(word("share.title"), html.P(word("share.loopback")), html.P(word("share.how")))]
    how = [html.P(word("share.compare")), html.P(fingerprint, className="address")] if fingerprint else []
    certificate = box(word("share.certificate"), *(how or [html.P(word("share.plain"))]))
    return [
        *(
            box(
                word(f"share.{name}"),
                html.P(word(f"share.{name}-note")),
                html.Img(src=picture, alt=word("share.code", what=word(f"share.{name}")), className="code"),
                html.P(address, className="address"),
            )
            for name, (address, picture) in codes.items()
        ),
        certificate,
    ]
