"""The home page: the jobs and recordings of the folder; its script fills it."""

from __future__ import annotations

import json

from dash import html
from dash.development.base_component import Component

from dashboard.text.home import HOME_WORDS
from dashboard.text.screen import word
from dashboard.views.elements.boxes import box
from dashboard.views.elements.controls import plain


def home_page() -> list[Component]:
    """Empty places for jobs, recordings and a new job, with the words that the script needs."""
    said = json.dumps({key.removeprefix("home."): text for key, text in HOME_WORDS.items()})
    return [
        html.Div(
            [
                html.P("", id="home-said", role="status"),
                html.P("", id="home-capture"),
                box(word("home.title"), html.Div(id="home-jobs"), name="home-jobs-box"),
                box(
                    word("home.begin"),
                    html.P(word("home.begin-note"), className="note-line"),
                    html.Div(id="home-new"),
                    name="home-new-box",
                ),
                box(word("home.recordings"), html.Div(id="home-recordings"), name="home-recordings-box"),
                box(
                    word("home.teach"),
                    html.P(word("home.teach-note"), className="note-line"),
                    html.A(word("home.teach"), href="#gauges", id="home-teach", className="button"),
                    name="home-teach-box",
                ),
            ],
            id="home-body",
            className="page-body",
            **plain(data_words=said),
        )
    ]
