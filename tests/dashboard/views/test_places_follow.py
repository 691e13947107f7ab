"""Laws of one truth for the places of a pass: every golden recording, event by event, in both units."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from dashboard.sources.scene import Scene
from dashboard.views.registry import draw
from tests.dashboard.views.test_one_truth import RECORDINGS, UNIT, number, walked


def of_the_pass(page: dict[str, Any]) -> list[float]:
    """The sizes on the cards of the newest pass."""
    cards = [(card[3][0], card[1][0]) for card in page["places[]"] if card[3][0] and card[1][0] != "–"]
    newest = max((int(text.split()[-1]) for text, _ in cards), default=-1)
    return [number(size) for text, size in cards if int(text.split()[-1]) == newest]


def mean_differs(page: dict[str, Any], sizes: list[float]) -> list[str]:
    """A size that is called the mean of the places is that, to the last decimal that is shown."""
    size, half = float(page["size"]), 0.501 * 10.0 ** -len(page["size"].split(".")[1])
    if not re.search(r"Mean of \d+ places", page["size-note"]):
        return []
    return [] if abs(sum(sizes) / len(sizes) - size) <= half else [f"{page['size']} of {sizes}"]


def stock_differs(page: dict[str, Any], sizes: list[float], units: str) -> list[str]:
    """The stock left is the smallest place less the aim, as both are shown."""
    rows = {row[0][0]: row[1][0] for row in page["taper[]"]}
    left, aim = rows.get("Stock left at the smallest place"), page["togo-note"].split("Aim ")
    if left is None or len(aim) < 2 or page["togo-note"].startswith("Before"):
        return []
    due = (min(sizes) - number(aim[1])) / UNIT[units]
    return [] if abs(due - number(left)) < 0.51 else [f"{left}, and the places say {due:.1f}"]


COMES = re.compile(r"(\d+(?:\.\d+)?) (?:µm|tenths?) (?:still comes|will still come|would still come) off")


def come_differs(page: dict[str, Any]) -> list[str]:
    """What still comes off by itself is one figure in banner, figures and advice, and never nothing."""
    found = [(text, match[1]) for text in (page["say"], page["coach-say"]) if (match := COMES.search(text))]
    return [text for text, figure in found if figure != page["come"] or float(figure) == 0.0]


@pytest.mark.parametrize("path", RECORDINGS, ids=lambda path: path.stem)
def test_at_every_event_size_stock_and_what_comes_off_follow_from_what_is_shown(path: Path):
    faults: list[Any] = []
    for event, state in walked(path):
        for units in ("mm", "in"):
            page = draw("grinding", Scene("live", path.name, state, age=0.1), units)
            if page.get("size-unit", "") == "" or "shaft" not in page["places-title"]:
                continue
            faults += [(event.seq, units, fault) for fault in come_differs(page)]
            sizes = of_the_pass(page)
            whole = len(sizes) == len(page["places[]"]) > 1
            found = mean_differs(page, sizes) + stock_differs(page, sizes, units) if whole else []
            faults += [(event.seq, units, fault) for fault in found]

    assert faults[:5] == []
