"""What stands where a picture could not be drawn: which page, and what a person does now."""

from __future__ import annotations

import sys
import traceback
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from dash import ctx, html, set_props

from capture.text.printable import plain
from dashboard.text.screen import word

CLEAR = {"render-error": "", "page@data-render-error": None}
_shown: set[str] = set()


def drawn(page: str, *parts: Callable[[], Mapping[str, Any]]) -> dict[str, Any]:
    """What all *parts* of a page show; in place of one that raised, that the page could not be drawn."""
    shown: dict[str, Any] = dict(CLEAR)
    for part in parts:
        try:
            shown |= part()
        # The one place where anything is caught for good: a fault in a view, whatever it is, leaves a person
        # with the other pages and a sentence, not with a stream that ends and begins again for ever.
        except Exception as error:  # noqa: BLE001
            shown |= {"render-error": _said(page, error), "page@data-render-error": ""}
    return shown


def answered(error: Exception) -> None:
    """Dash's own boundary round its callbacks: the sentence into the first output that holds elements."""
    page = next(_flat(ctx.inputs_list))["id"].removeprefix("page-").partition("-")[0]
    sentence = _said(page, error)
    for one in _flat(ctx.outputs_list):
        if one["property"] == "children":
            set_props(one["id"], {"children": html.P(sentence, className="render-error", role="alert")})
            return


def _flat(outputs: Any) -> Iterator[Any]:
    if isinstance(outputs, list):
        for one in outputs:
            yield from _flat(one)
    elif outputs:
        yield outputs


def _said(page: str, error: Exception) -> str:
    """The sentence for the page; the fault goes to the server's log, once and in one line."""
    at = traceback.extract_tb(error.__traceback__)[-1]
    what = " ".join(f"{type(error).__name__}: {error}".split())[:300]
    line = f"page {page} could not be drawn: {what} ({at.filename}:{at.lineno})\n"
    if line not in _shown:
        _shown.add(line)
        sys.stderr.write(plain(line))
    return word("notice.render-error", page=word(f"page.{page}"), what=what)
