"""The page Job: a sheet as a form, described for the script that builds it."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from dash import html
from dash.development.base_component import Component

from dashboard.text.screen import WORDS, word
from dashboard.views.elements.boxes import box
from dashboard.views.elements.controls import plain
from dashboard.views.setup.sheet_fields import GROUPS, LISTED, SETTINGS, Field, FieldGroup

SAID = (
    *("open", "new", "name", "save", "choose", "failed", "viewer", "more", "settings", "settings-note"),
    *(
        "must",
        "must-note",
        "undo",
        "undone",
        "fit-list",
        "fit-none",
        "sight",
        "looking",
        "sight-none",
        "start",
    ),
)
"""Words that the script needs."""


def job_page() -> list[Component]:
    """An empty place for the form, with the words that its script needs."""
    said = json.dumps({key: WORDS[f"job.{key}"] for key in SAID})
    form = html.Div(id="job-form", className="page-body", **plain(data_words=said))
    note = html.P(word("job.note"), className="note-line")
    return [box(word("job.title"), note, form, name="job-box")]


def described(values: Mapping[str, str]) -> dict[str, Any]:
    """The form as plain data: groups of fields, settings, each gauge and pedal, and a fresh one of each."""
    return {
        "groups": [_group(group, values) for group in GROUPS],
        "settings": [_group(group, values) for group in SETTINGS],
        "listed": [
            {
                "kind": kind,
                "title": word(f"job.group-{kind}"),
                "add": word(f"job.add-{kind}"),
                "remove": word(f"job.remove-{kind}"),
                "all": [_fields(kind, fields, str(place), values) for place in _places(kind, values)],
                "fresh": _fields(kind, fields, "new", {}),
            }
            for kind, fields in LISTED.items()
        ],
    }


def _places(kind: str, values: Mapping[str, str]) -> list[int]:
    return sorted({int(key.split(".")[1]) for key in values if key.startswith(f"{kind}.")})


def _group(group: FieldGroup, values: Mapping[str, str]) -> dict[str, Any]:
    fields = [_field(each, values.get(each.key, "")) for each in group.fields]
    return {"title": WORDS.get(f"job.group-{group.name}", group.name), "fields": fields}


def _fields(
    kind: str, fields: Sequence[Field], place: str, values: Mapping[str, str]
) -> list[dict[str, Any]]:
    return [_field(each, values.get(f"{kind}.{place}.{each.key}", "")) for each in fields]


def _field(field: Field, value: str) -> dict[str, Any]:
    return {
        "key": field.key,
        "kind": field.kind,
        "among": list(field.among),
        "label": field.label,
        "hint": field.help.replace("`", ""),
        "must": field.must,
        "offers": list(field.offers),
        "value": value,
        "more": field.more,
        "ways": list(field.ways),
        "default": field.default,
    }
