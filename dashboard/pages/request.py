"""What a browser asks of the pages of the analysis, and what stands where there is nothing to answer."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from typing import Any

from dash import html
from dash.exceptions import PreventUpdate

from capture.sheet.job import Units
from dashboard.text.screen import word
from dashboard.views.elements.boxes import offered
from dashboard.views.elements.theme import Theme


class PageRequest:
    """A browser's units and theme."""

    def __init__(self, data: Any) -> None:
        given: Mapping[str, Any] = data if isinstance(data, dict) else {}
        self.known = isinstance(data, dict)
        self.units: Units | None = (
            "in" if given.get("units") == "in" else "mm" if given.get("units") else None
        )
        self.theme: Theme = "dark" if given.get("theme") == "dark" else "light"


def nothing() -> html.Div:
    """What stands where no recording is shown yet."""
    return offered(word("request.nothing"), "home")


async def beside(work: Callable[..., Any], *given: Any) -> Any:
    """*work* done in a thread beside the server; nothing where the dashboard ends before it is done."""
    try:
        return await asyncio.to_thread(work, *given)
    except asyncio.CancelledError:
        raise PreventUpdate from None
