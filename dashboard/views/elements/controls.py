"""What a person presses: the bar of a live page, the field for stage and note, and the bar of a replay."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.text.screen import word


def asking() -> list[Component]:
    """What the operator says after every pass."""
    return [
        html.Div(
            [
                html.Label("", id="infeed-label", htmlFor="infeed"),
                _button(
                    "less", "−", **plain(aria_label=word("ask.less"), data_key="-", aria_keyshortcuts="-")
                ),
                dcc.Input(id="infeed", type="text", autoComplete="off"),
                _button(
                    "more-infeed",
                    "+",
                    **plain(aria_label=word("ask.more"), data_key="+", aria_keyshortcuts="+"),
                ),
            ],
            className="infeed",
        ),
        _button("pass", word("ask.pass"), key="p", className="strong"),
        _button("spark", word("ask.spark"), key="o", className="strong"),
        _button("undo", word("ask.undo"), key="u"),
        saying("merge", word("ask.merge"), ["merge"], key="w"),
        _button("reject", word("ask.reject"), key="r"),
    ]


def saying(
    name: str, text: str | Component, words: Sequence[str] = (), key: str = "", **more: Any
) -> html.Button:
    """A button that says *words*, which its page may change under ``name@data-say`` (JSON)."""
    return _button(name, text, key, **plain(data_say=json.dumps(list(words))), **more)


def walking() -> html.Div:
    """Where the gauge stands: one place back, one left out, and off the master."""
    return html.Div(
        [
            saying("measure-back", word("measure-key.back"), ["back"], key="b"),
            saying("measure-skip", word("measure-key.skip"), ["skip"], key="s"),
            saying("measure-station", word("measure-key.station"), ["station"], key="t"),
        ],
        id="measure-keys",
    )


def writing() -> html.Section:
    """The stage chosen from the job's list, and what is written: a stage of its own, a note, a master."""
    return html.Section(
        [
            html.H2(html.Label(word("ask.stage-choice"), htmlFor="stage-choice")),
            html.Div(
                [html.Select([], id="stage-choice"), _button("stage-say", word("ask.stage"), key="g")],
                className="written",
            ),
            html.H2(html.Label(word("ask.text"), htmlFor="text")),
            html.Div(
                [
                    dcc.Input(id="text", type="text", maxLength=500, autoComplete="off"),
                    _button("note-say", word("ask.note"), key="n"),
                    _button("master-say", word("ask.master"), key="m"),
                    _button("own-say", word("ask.own")),
                ],
                className="written",
            ),
        ],
        id="write",
    )


def transport() -> list[Component]:
    """What stands in the bar at the foot of a replay."""
    return [
        _button("pass-back", word("play.back"), key="j", shape="◀"),
        _button("play", word("play.play"), key="k", shape="▶❚❚", **plain(aria_pressed="false")),
        _button("pass-on", word("play.on"), key="l", shape="▶"),
        html.Div(
            [
                html.Ul([], id="marks", **plain(aria_hidden="true")),
                dcc.Input(id="scrub", type="range", min=0, max=1000, step=1, value=0),
                html.Label(word("play.scrub"), htmlFor="scrub", className="hidden"),
            ],
            className="scrub",
        ),
        _button("slower", word("play.slower"), key=",", shape="−"),
        html.Output("", id="speed"),
        _button("faster", word("play.faster"), key=".", shape="+"),
        _button("redecide", word("play.redecide"), key="f", shape="↻", **plain(aria_pressed="false")),
        html.P("", id="where"),
        html.P("", id="lately-told"),
    ]


def _button(name: str, text: str | Component, key: str = "", shape: str = "", **more: Any) -> html.Button:
    """A button; one with a *shape* may lose its words where there is no room for them."""
    children: list[Any] = [text]
    if shape:
        children = [html.Span(shape, **plain(aria_hidden="true")), html.Span(text, className="word")]
    if key:
        children.append(html.Kbd(key.upper()))
        more = {**more, "data-key": key, "aria-keyshortcuts": key.upper()}
    return html.Button(children, id=name, type="button", **more)


def plain(**attributes: str) -> dict[str, Any]:
    """Attributes whose names have a hyphen, which Python's have not."""
    return {name.replace("_", "-"): value for name, value in attributes.items()}
