"""The library that draws and the letters come from the dashboard itself."""

from __future__ import annotations

import pytest
from playwright.sync_api import Error

from dashboard.views.registry import PAGES

pytestmark = pytest.mark.browser


def fonts_of(page) -> dict[str, int]:
    """Glyphs by the font that they are drawn with; a font of the page's own is marked with a star."""
    tools = page.context.new_cdp_session(page)
    for domain in ("DOM", "CSS"):
        tools.send(f"{domain}.enable")
    root = tools.send("DOM.getDocument", {"depth": 0})["root"]["nodeId"]
    found = tools.send("DOM.querySelectorAll", {"nodeId": root, "selector": "#page :not(svg, svg *)"})
    drawn: dict[str, int] = {}
    for node in found["nodeIds"]:
        try:
            fonts = tools.send("CSS.getPlatformFontsForNode", {"nodeId": node})["fonts"]
        except Error:  # drawn anew meanwhile
            continue
        for font in fonts:
            name = f"{'*' if font['isCustomFont'] else ''}{font['familyName']}"
            drawn[name] = drawn.get(name, 0) + int(font["glyphCount"])
    return drawn


def test_every_page_is_written_in_the_fonts_that_come_with_it(show, recording):
    screen = show(str(recording))
    foreign = {}
    for one in PAGES:
        screen.page.click(f'#links a[data-page="{one.name}"]')
        screen.holds(f"document.getElementById('page-{one.name}').childElementCount > 0")
        screen.page.wait_for_timeout(300)
        drawn = fonts_of(screen.page)
        assert sum(drawn.values()) > 100, one.name
        foreign[one.name] = {name: n for name, n in drawn.items() if not name.startswith("*")}

    assert {name: fonts for name, fonts in foreign.items() if set(fonts) - {"DejaVu Sans Mono"}} == {}


def test_a_page_without_a_figure_fetches_no_library_and_the_next_with_one_does(show, recording):
    fetched: list[str] = []
    screen = show(str(recording))
    page = screen.page
    page.on("request", lambda request: fetched.append(request.url))
    page.goto(f"{screen.address.partition('?')[0]}#plan")
    page.reload()
    screen.until("plan-body", r"\w")
    assert not [one for one in fetched if "plotly" in one]

    page.click('#links a[data-page="readings"]')
    page.wait_for_selector("#readings-graph .scatterlayer .trace path.js-line", state="attached")
    drawing = {one for one in fetched if "plotly" in one}

    assert len(drawing) == 1
    assert "/packaged/" in drawing.pop()
