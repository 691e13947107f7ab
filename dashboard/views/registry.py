"""The pages of the screen, in the order of the links at the top.

To add a page: write ``dashboard/views/NAME.py`` with a pure function ``(scene, units) -> dict``
of what each element shows (keys as in `dashboard.views.grinder.contents`; ``scene.state`` may be None),
and ``dashboard/views/NAME_page.py`` with a function that gives its Dash components; then one
line in `PAGES`, and ``page.NAME`` in `dashboard.text.screen`. Ids start with the page's name, because
all pages are in one document: each is built when the address first names it (``#NAME``), only that
one is shown, and only its keys come through the live stream. Buttons that say words carry them in
``data-say`` (`dashboard.views.elements.controls.saying`).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final, TypeAlias

from dash.development.base_component import Component
from msgspec import Struct

from capture.sheet.job import Units
from dashboard.sources.scene import Scene
from dashboard.views.analysis import pages as analysis_pages
from dashboard.views.bore.contents import bore
from dashboard.views.bore.page import bore_page, bore_words
from dashboard.views.elements import controls
from dashboard.views.grinder.contents import grinding
from dashboard.views.grinder.page import grinding_page
from dashboard.views.render_errors import drawn
from dashboard.views.setup.instruments import instruments
from dashboard.views.setup.instruments_page import instruments_page, typed_words
from dashboard.views.status_bar import frame

Draw: TypeAlias = Callable[[Scene, Units], dict[str, Any]]


def _nothing() -> list[Component]:
    return []


class Page(Struct, frozen=True):
    """One page: its name in the address, what it shows, its elements, and its buttons on a live page."""

    name: str
    draw: Draw
    layout: Callable[[], list[Component]]
    words: Callable[[], list[Component]] = _nothing


PAGES: Final[tuple[Page, ...]] = (
    Page("grinding", grinding, grinding_page, controls.asking),
    Page("bore", bore, bore_page, bore_words),
    Page("gauges", instruments, instruments_page, typed_words),
    *(Page(one.name, one.draw, one.layout) for one in analysis_pages.PAGES),
)


def named(name: str) -> Page:
    """The page of that name; the first for any other."""
    return next((page for page in PAGES if page.name == name), PAGES[0])


def draw(name: str, scene: Scene, units: Units | None = None) -> dict[str, Any]:
    """Everything that a page shows of *scene*, with its frame; units None are those of the job."""
    known: Units = units or (scene.state.job.units if scene.state is not None else "mm")
    page = named(name)
    return drawn(page.name, lambda: frame(scene, known), lambda: page.draw(scene, known))
