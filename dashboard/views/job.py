"""The page Job: a sheet as a form, described for the script that builds it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from dash import html
from dash.development.base_component import Component

from dashboard.sheet_form import GAUGE, GROUPS, Field
from dashboard.views.boxes import box
from dashboard.views.controls import plain
from dashboard.words import WORDS, word

SAID = ("open", "new", "name", "save", "add", "remove", "choose", "failed", "viewer")
"""Words that the script needs."""


def job_page() -> list[Component]:
    """An empty place for the form, with the words that its script needs."""
    said = json.dumps({key: word(f"job.{key}") for key in SAID})
    form = html.Div(id="job-form", className="desk-body", **plain(data_words=said))
    note = html.P(word("job.note"), className="note-line")
    return [box(word("job.title"), note, form, name="job-box")]


def described(values: Mapping[str, str]) -> dict[str, Any]:
    """The form as plain data: groups of fields, each gauge, and a gauge that is to be added."""
    groups = [
        {
            "title": word(f"job.group-{group.name}"),
            "fields": [_field(each, each.key, each.key, values) for each in group.fields],
        }
        for group in GROUPS
    ]
    places = sorted({int(key.split(".")[1]) for key in values if key.startswith("gauge.")})
    gauges = [
        [_field(each, each.key, f"gauge.{place}.{each.key}", values) for each in GAUGE] for place in places
    ]
    return {
        "groups": groups,
        "gauges": gauges,
        "fresh": [_field(each, each.key, f"gauge.new.{each.key}", {}) for each in GAUGE],
        "gauge_title": word("job.group-gauge"),
    }


def _field(field: Field, name: str, key: str, values: Mapping[str, str]) -> dict[str, Any]:
    label = f"job.gauge.{name}" if key.startswith("gauge.") else f"job.{name}"
    return {
        "key": name,
        "kind": field.kind,
        "among": list(field.among),
        "label": word(label),
        "hint": WORDS.get(f"{label}-hint", ""),
        "value": values.get(key, ""),
    }
