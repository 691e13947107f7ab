"""Boxes that pages are made of: a titled list and a titled table, each with words for when it is empty."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard.text.screen import word
from dashboard.views.elements.controls import plain


def listed(name: str, title: str, *more: Any, scrolls: bool = False) -> html.Section:
    """A list with *more* before it: rows come under ``name[]``, words for none under ``name-none``.

    *scrolls*: its area is fixed, so that keys must reach it to scroll it.
    """
    parts = [
        html.H2(title, id=f"{name}-title"),
        *more,
        html.Ul([], id=name, **plain(aria_labelledby=f"{name}-title")),
        html.P("", id=f"{name}-none", className="empty"),
    ]
    return html.Section(parts, id=f"{name}-box", **_reached(scrolls))


def table(name: str, columns: tuple[str, ...], *, scrolls: bool = False) -> html.Section:
    """A table with the words ``name.title`` and ``name.COLUMN``; rows come as those of `listed`."""
    return html.Section(
        [
            html.H2(word(f"{name}.title"), id=f"{name}-title"),
            html.Table(
                [
                    html.Thead(
                        html.Tr([html.Th(word(f"{name}.{column}"), scope="col") for column in columns])
                    ),
                    html.Tbody([], id=name),
                ],
                **plain(aria_labelledby=f"{name}-title"),
            ),
            html.P("", id=f"{name}-none", className="empty"),
        ],
        id=f"{name}-box",
        **_reached(scrolls),
    )


def _reached(scrolls: bool) -> dict[str, Any]:
    return {"tabIndex": 0} if scrolls else {}
