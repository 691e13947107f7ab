"""Looking for gauges and teaching one: an empty place, with the words that its script needs."""

from __future__ import annotations

import json
from typing import Any, Final

from dash import html
from dash.development.base_component import Component

from capture.sheet.gauges.written import PLACES_OF_HEAT
from dashboard.text.screen import word
from dashboard.text.teaching import TEACH_WORDS
from dashboard.views.elements.controls import plain

UNITS: Final = ("mm", "in", "um", "degC", "degF", "K", "deg", "%", "N", "W", "kW", "1")
"""Units that a display may be in, the commonest first."""
MEASURES: Final = ("diameter", "bore", "infeed", "power", "temperature")
FRAMES: Final = ("8N1", "7E1", "7O1", "8E1", "8O1", "7N2")
BAUDS: Final = (1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200)


def teach_section() -> Component:
    """The section of the gauges' page; a script builds the lesson in it."""
    about: dict[str, Any] = {
        "words": TEACH_WORDS,
        "units": UNITS,
        "measures": MEASURES,
        "parts": PLACES_OF_HEAT,
        "frames": FRAMES,
        "bauds": BAUDS,
    }
    return html.Section(
        [
            html.H2(word("teach.title")),
            html.P(word("teach.note"), className="note-line"),
            html.Button(word("teach.look"), id="gauges-look", type="button", className="strong"),
            html.P("", id="gauges-looked", role="status"),
            html.Div(id="gauges-sight"),
            html.Div(id="gauges-lesson"),
        ],
        id="gauges-teach",
        **plain(data_about=json.dumps(about)),
    )
