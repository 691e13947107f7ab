"""Boxes of the pages that are worked out on request: sections, tables that scroll, lists."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard.text.screen import word
from dashboard.views.elements.controls import plain


def box(title: str, *inside: Any, name: str = "") -> html.Section:
    """A titled section; what is None is left out."""
    own: dict[str, Any] = {"id": name} if name else {}
    return html.Section(
        [html.H2(title), *(each for each in inside if each is not None)], className="box", **own
    )


def offered(sentence: str, *pages: str) -> html.Div:
    """What a page says while it has nothing to show, and the pages on which that is mended."""
    links = [html.A(word(f"page.{page}"), href=f"#{page}", className="button") for page in pages]
    return html.Div([html.P(sentence), html.Div(links, className="links")], className="box")


def grid(
    caption: str,
    head: Sequence[str],
    rows: Sequence[Sequence[str | tuple[str, str]]],
    *,
    numbers: int = 0,
) -> html.Div:
    """A table; on a phone each row stands as a block, every cell beside the word of its column.

    Args:
        caption: What it shows, for who hears the page; it need not be seen.
        head: Words over the columns.
        rows: Cells are text, or text and state.
        numbers: Columns from this one on are numbers.
    """
    body = [
        html.Tr([_cell(cell, head[index], number=0 < numbers <= index) for index, cell in enumerate(row)])
        for row in rows
    ]
    table = html.Table(
        [
            html.Caption(caption, className="hidden"),
            html.Thead(html.Tr([html.Th(text, scope="col") for text in head])),
            html.Tbody(body),
        ]
    )
    return html.Div(table, className="grid", tabIndex="0", role="region", **plain(aria_label=caption))


def _cell(cell: str | tuple[str, str], column: str, *, number: bool) -> html.Td:
    text, state = cell if isinstance(cell, tuple) else (cell, "")
    more = plain(data_state=state) if state else {}
    kinds = ["number"] * number + ["blank"] * (text in {"–", ""})
    return html.Td(text, className=" ".join(kinds), **plain(data_column=column), **more)


def bullets(title: str, sentences: Sequence[str], state: str = "") -> html.Div | None:
    """A titled list of sentences; None where there is none."""
    if not sentences:
        return None
    more = plain(data_state=state) if state else {}
    return html.Div(
        [html.H3(title), html.Ul([html.Li(one) for one in sentences])], className="bullets", **more
    )
