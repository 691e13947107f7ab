"""The grinder's page on one screenful, and what a person who hears the page gets."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe

from dashboard.views.registry import PAGES
from tests.dashboard.browser.conftest import SIZES

SHOWN = ("banner", "coach", "figures-row", "way", "trend-box", "passes-box")
BOX = "id => (r => [r.top, r.bottom, r.left, r.right])(document.getElementById(id).getBoundingClientRect())"


def boxes(page):
    return {name: [round(edge) for edge in page.evaluate(BOX, name)] for name in SHOWN}


@pytest.mark.parametrize("size", ["shop", "tablet"])
def test_the_grinders_page_is_one_screenful_and_nothing_jumps(show, recording, shots, size):
    """Another sentence, three times as long, moves no area; verdict, next, size, way, chart, table show."""
    screen = show(str(recording), size=size)
    page = screen.page
    screen.until("size", r"\d")
    page.wait_for_timeout(500)
    width, height = SIZES[size]
    before = boxes(page)
    page.screenshot(path=shots / f"grinding-{size}.png")
    page.evaluate(
        "for (const id of ['say', 'more', 'coach-say', 'size-note'])"
        " document.getElementById(id).textContent = 'a sentence that is long, as some are, '.repeat(4)"
    )
    page.wait_for_timeout(300)

    assert page.evaluate("document.documentElement.scrollHeight") <= height
    assert all(0 <= top < bottom <= height and right <= width for top, bottom, _, right in before.values())
    assert boxes(page) == before
    for name in ("banner", "coach"):  # made to fit, or to be scrolled within its own area
        assert page.evaluate(f"document.getElementById('{name}').clientHeight") > 0
    assert page.evaluate("(b => b.scrollHeight - b.clientHeight)(document.getElementById('banner'))") <= 1


BORE = Path(__file__).parents[3] / "recordings" / "bore.jsonl"
AREAS = {
    "shop": ("banner", "sound-box", "figures", "section", "rock", "profile", "map", "shape", "lap", "tight"),
    "tablet": ("banner", "sound-box", "figures", "section", "rock", "map"),
}
"""Of the bore's page, what is seen at once."""
PLACED = """(names) => Object.fromEntries(names.map((name) => {
  const inside = (rule) => document.querySelector(`#page-bore ${rule}`);
  const box = inside(`#bore-${name}-box`) || inside(`#bore-${name}`) || inside(`.${name}`);
  const { top, bottom, left, right } = box.getBoundingClientRect();
  return [name, [top, bottom, left, right].map(Math.round)]; }))"""


@pytest.mark.parametrize("size", ["shop", "tablet"])
def test_the_bores_page_is_one_screenful_and_nothing_jumps_or_overlaps(show, shots, size):
    """Of a recorded session at its end, while a gauge was rocked; longer sentences move no area."""
    screen = show(str(BORE), size=size)
    page, (width, height) = screen.page, SIZES[size]
    page.click('#links a[data-page="bore"]')
    screen.until("bore-smallest", r"\d")
    page.wait_for_timeout(800)
    before = page.evaluate(PLACED, AREAS[size])
    page.screenshot(path=shots / f"bore-{size}.png")
    page.evaluate(
        "for (const id of ['bore-say', 'bore-more', 'bore-said', 'bore-last-note'])"
        " document.getElementById(id).textContent = 'a sentence that is long, as some are, '.repeat(3)"
    )
    page.wait_for_timeout(300)

    assert page.evaluate("document.documentElement.scrollHeight") <= height
    assert all(0 <= top < bottom <= height and right <= width for top, bottom, _, right in before.values())
    assert page.evaluate(PLACED, AREAS[size]) == before
    over = [
        (one, other)
        for (one, a), (other, b) in combinations(before.items(), 2)
        if a[0] < b[1] and b[0] < a[1] and a[2] < b[3] and b[2] < a[3]
    ]
    assert over == []


LABELS = "#way .label, #way-scale span"
OVERLAP = """() => { const all = [...document.querySelectorAll(%r)].filter((one) => one.checkVisibility())
  .map((one) => [one.textContent, one.getBoundingClientRect()]);
  return all.flatMap(([a, p], n) => all.slice(n + 1).filter(([, q]) =>
    p.left < q.right - 1 && q.left < p.right - 1 && p.top < q.bottom - 2 && q.top < p.bottom - 2)
    .map(([b]) => `${a} on ${b}`)); }"""


@pytest.mark.parametrize("size", ["shop", "tablet"])
def test_only_the_page_scrolls_and_no_label_of_the_way_lies_on_another(show, recording, size):
    """Of a small plan nothing scrolls within itself, and the way's figures, now and when cold part."""
    screen = show(str(recording), size=size)
    screen.until("size", r"\d")
    screen.page.wait_for_timeout(500)
    within = screen.page.evaluate(
        "[...document.querySelectorAll('#page-grinding :is(section, .column)')].filter((one) =>"
        " one.id !== 'passes-box' && getComputedStyle(one).overflowY !== 'visible'"
        " && one.scrollHeight > one.clientHeight + 1 && one.clientHeight).map((one) => one.id)"
    )

    assert within == []
    for now, cold in ((50, 50), (52, 50), (3, 4), (97, 96)):
        screen.page.evaluate(
            f"document.getElementById('way').style.setProperty('--now', '{now}%');"
            f"document.getElementById('way').style.setProperty('--cold', '{cold}%')"
        )
        assert screen.page.evaluate(OVERLAP % LABELS) == []


@pytest.mark.parametrize("name", ["fit", "plan", "steps"])
def test_on_a_phone_no_table_is_wider_than_the_screen(show, recording, name):
    screen = show(str(recording), size="phone")
    screen.page.click(f'#links a[data-page="{name}"]')
    screen.page.wait_for_selector(f"#page-{name} .grid:visible")

    grids = f"[...document.querySelectorAll('#page-{name} .grid')]"
    screen.holds(f"{grids}.every((one) => one.scrollWidth <= one.clientWidth)")


def test_a_phone_shows_verdict_next_size_and_the_keys_on_its_first_screen(
    show, recording, capture_of, session, ground
):
    with capture_of(recording, ground):
        screen = show(str(recording), size="phone")
        screen.until("size", r"\d")
        screen.page.wait_for_selector("#pass:visible")
        screen.page.wait_for_timeout(300)
        bar = screen.page.evaluate("document.getElementById('ask').getBoundingClientRect().top")
        ends = {
            name: screen.page.evaluate(f"document.getElementById('{name}').getBoundingClientRect().bottom")
            for name in ("say", "coach-say", "size", "togo", "pass", "spark")
        }

    assert all(ends[name] <= bar for name in ("say", "coach-say", "size", "togo")), ends
    assert max(ends.values()) <= SIZES["phone"][1]


def test_on_a_phone_the_link_of_the_page_that_is_open_is_in_sight(show, recording):
    screen = show(str(recording), size="phone")
    last = PAGES[-1].name
    screen.page.evaluate("(name) => { location.hash = name; }", last)
    screen.holds(f"document.documentElement.dataset.page === '{last}'")
    link = screen.page.locator(f'#links a[data-page="{last}"]').bounding_box()

    assert link["x"] >= 0
    assert link["x"] + link["width"] <= SIZES["phone"][0]


@pytest.mark.timeout(300)
def test_no_page_has_a_fault_that_a_checker_of_accessibility_finds(show, recording):
    """By axe-core's rules (WCAG 2 A and AA, and its best practices), each page as it opens."""
    screen = show(str(recording), bypass_csp=True)
    faults = []
    for one in PAGES:
        screen.page.click(f'#links a[data-page="{one.name}"]')
        screen.page.wait_for_selector(f"#page-{one.name}:visible")
        screen.page.wait_for_timeout(800)
        found = Axe().run(screen.page).response["violations"]
        faults += [(one.name, each["id"], each["nodes"][0]["html"][:80]) for each in found]

    assert faults == []
