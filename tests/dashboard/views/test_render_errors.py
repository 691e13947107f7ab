from __future__ import annotations

import msgspec
import pytest

from dashboard.sources.scene import Scene
from dashboard.views import registry, render_errors


def failing(_scene, _units):
    raise ZeroDivisionError("a width of\nnothing")


@pytest.fixture
def broken(monkeypatch):
    """The pages, of which the bore's view raises."""
    monkeypatch.setattr(render_errors, "_shown", set())
    monkeypatch.setattr(
        registry,
        "PAGES",
        tuple(
            msgspec.structs.replace(one, draw=failing) if one.name == "bore" else one
            for one in registry.PAGES
        ),
    )


def test_a_page_that_cant_be_drawn_says_which_and_what_to_do(broken, ground, capsys):
    shown = registry.draw("bore", Scene("live", "sleeve.jsonl", ground.state))

    assert "The page Bore could not be drawn (ZeroDivisionError: a width of nothing)" in shown["render-error"]
    assert "The recording goes on unharmed. Look at another page" in shown["render-error"]
    assert shown["page@data-render-error"] == ""
    assert shown["recording"] == "sleeve.jsonl"


def test_the_log_has_it_once_and_in_one_line(broken, ground, capsys):
    for _ in range(3):
        registry.draw("bore", Scene("live", "sleeve.jsonl", ground.state))

    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith("page bore could not be drawn: ZeroDivisionError: a width of nothing")
    assert "test_render_errors.py:" in line


def test_the_other_pages_go_on(broken, ground):
    shown = registry.draw("grinding", Scene("live", "sleeve.jsonl", ground.state))

    assert (shown["render-error"], shown["page@data-render-error"]) == ("", None)
    assert shown["banner@data-state"]
