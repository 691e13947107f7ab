"""Every page there is, those of tomorrow too, fits every screen."""

from __future__ import annotations

from dashboard.views.registry import PAGES
from tests.dashboard.browser.conftest import SIZES


def width_settled(page):
    """Pixels sideways; a figure needs a moment to take the new size of the window."""
    for _ in range(30):
        wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        if wide <= 0:
            break
        page.wait_for_timeout(100)
    return wide


def test_no_page_goes_sideways_or_has_a_target_too_small(show, recording):
    screen = show(str(recording), "--replay", "--speed", "500")
    page, found = screen.page, []
    for one in PAGES:
        page.click(f'#links a[data-page="{one.name}"]')
        page.wait_for_selector(f"#page-{one.name}:visible")
        for size, (width, height) in SIZES.items():
            page.set_viewport_size({"width": width, "height": height})
            wide = width_settled(page)
            small = page.eval_on_selector_all(
                f"#page-{one.name} :is(button, input, select)",
                "all => all.filter(b => b.checkVisibility() && Math.min(b.offsetWidth, b.offsetHeight) < 48)"
                ".map(b => b.id || b.textContent)",
            )
            found += [(one.name, size, wide, small)] if wide > 0 or small else []

    assert found == []


BROKEN = """
import sys
import msgspec
from dashboard.pages import analysis
from dashboard.views import registry
from dashboard.__main__ import main

def failing(*_given):
    raise ZeroDivisionError("a width of nothing")

analysis.fit_body = failing
registry.PAGES = tuple(
    msgspec.structs.replace(p, draw=failing) if p.name == "bore" else p for p in registry.PAGES
)
sys.exit(main())
"""


def test_a_page_that_cant_be_drawn_leaves_the_others(show, recording):
    screen = show(str(recording), "--replay", "--speed", "500", command=("-c", BROKEN))
    page = screen.page

    page.click('#links a[data-page="bore"]')
    assert "Look at another page" in screen.until("render-error", "The page Bore could not be drawn")
    assert not page.is_visible("#page-bore")

    page.click('#links a[data-page="fit"]')
    screen.until("fit-body", "The page Fit could not be drawn .ZeroDivisionError: a width of nothing.")

    page.click('#links a[data-page="grinding"]')
    page.wait_for_selector("#banner:visible")
    assert screen.text("render-error") == ""
    assert not page.is_visible("#render-error")
