"""Fields and buttons that say words of the program with what a person typed behind them."""

from __future__ import annotations

import json
from typing import Any

from dash import dcc, html

from dashboard.text.screen import word
from dashboard.views.elements.controls import plain


def typed_field(name: str, key: str, verb: str) -> list[Any]:
    """A field and the button that says *verb* and what stands in it."""
    field = dcc.Input(id=name, type="text", autoComplete="off", maxLength=200)
    label = html.Label(word(key), htmlFor=name)
    button = says(word("steps.say"), [verb], name, f"{word('steps.say')}: {verb}")
    return [html.Div([label, field], className="field"), button]


def says(text: str, words: list[str], field: str = "", name: str = "") -> html.Button:
    """A button that says *words*, and behind them what stands in *field*."""
    more = {"data_say": json.dumps(words)} | ({"data_field": field} if field else {})
    return html.Button(text, type="button", className="button", **plain(**more, aria_label=name or text))
