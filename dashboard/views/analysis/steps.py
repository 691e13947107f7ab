"""The steps beside the measuring as a page: what is open, checks, wheel and work, lap, trial, pictures."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from typing import Any

from dash import dcc, html

from capture.report.setup_drawing import drawing_text, setup_drawing
from capture.report.terminal.steps_text import figure_text, lap_text, treatment_text, usual_text
from capture.sheet.job import Job, Units
from capture.state.steps.step_words import FEELS
from dashboard.text.screen import word
from dashboard.views.elements.boxes import box, grid
from dashboard.views.elements.typed_fields import says, typed_field
from dashboard.views.lengths import place, size, small


def steps_page() -> list[Any]:
    """What is typed stands outside of what is worked out anew, so that nothing typed is lost."""
    return [_trial_form(), _clamp_form(), _runout_form(), _picture_form()]


def _picture_form() -> html.Section:
    """The script of the page makes a picture smaller and sends it; the server makes it anew."""
    text = dcc.Input(id="picture-text", type="text", autoComplete="off", maxLength=200)
    keep = html.Button(word("steps.picture-keep"), id="picture-keep", type="button")
    asked = [
        html.Div([html.Label(word("steps.picture-text"), htmlFor="picture-text"), text], className="field"),
        keep,
    ]
    note = html.P(word("steps.picture-note"), className="note-line")
    return box(word("steps.picture"), note, html.Div(asked, className="fields"), name="steps-picture")


def _trial_form() -> html.Section:
    note = word("steps.trial-note", feels=", ".join(FEELS))
    asked = typed_field("tried-words", "steps.trial-words", "tried")
    return box(
        word("steps.trial"),
        html.P(note, className="note-line"),
        html.Div(asked, className="fields"),
        name="steps-trial",
    )


def _runout_form() -> html.Section:
    return box(
        word("steps.runout"),
        html.P(word("steps.runout-note"), className="note-line"),
        html.Div(typed_field("runout-words", "steps.runout-words", "runout"), className="fields"),
        name="steps-runout",
    )


def _clamp_form() -> html.Section:
    asked = [
        *typed_field("clamp-words", "steps.clamp-words", "clamp"),
        *typed_field("check-words", "steps.check-words", "checked"),
    ]
    return box(
        word("steps.clamp"),
        html.P(word("steps.clamp-note"), className="note-line"),
        html.Div(asked, className="fields"),
        name="steps-clamp",
    )


def steps_body(found: Mapping[str, Any], job: Job, units: Units) -> list[Any]:
    """What `capture.analysis.steps.job_steps.steps_of` found."""
    held = word("steps.held", how=found["clamp"]) if found["clamp"] else word("steps.held-none")
    return [
        box(word("steps.open"), html.Ul([html.Li(one) for one in found["open"]]))
        if found["open"]
        else html.P(word("steps.nothing"), className="lead"),
        _checks(found),
        _runout(found["runout"], units),
        _drawing(job, units),
        _work(found["work"], units),
        box(word("steps.treatment"), html.P(treatment_text(found["treatment"]), className="lines")),
        _lap(found["lap"], units),
        box(word("steps.held-title"), html.P(held)),
        _tries(found, units),
        _pictures(found),
    ]


def _checks(found: Mapping[str, Any]) -> html.Section:
    rows = []
    for one in found["checks"]:
        state = one["result"] or "open"
        text = word(f"steps.result-{state.replace(' ', '-')}") + (f": {one['text']}" if one["text"] else "")
        name = word(f"check.{one['what']}")
        keys = [
            says(word(f"steps.{key}"), ["checked", one["what"], said], name=f"{name}: {word(f'steps.{key}')}")
            for key, said in (("ok", "ok"), ("not-ok", "no"), ("not-due", "none"))
        ]
        about = html.Div([html.H3(name), html.P(text)])
        rows.append(html.Div([about, html.Div(keys, className="keys")], className="home-row"))
    return box(word("steps.checks"), *rows)


def _runout(found: Mapping[str, Any], units: Units) -> html.Section | None:
    """What was read, and what it costs in chromium, place by place."""
    if not found["rows"]:
        return None
    head = [word(f"runout.{key}") for key in ("at", "of", "full", "angle", "by")]
    rows = [
        [
            place(one["z"], units),
            word(f"runout.of-{one['of']}"),
            small(one["full"], units),
            word("unknown") if one["angle"] is None else f"{one['angle']:.0f}°",
            word(f"runout.by-{one['by']}"),
        ]
        for one in found["rows"]
    ]
    costs = [
        [
            place(one["z"], units),
            size(one["even"], units),
            small(one["takes"], units),
            size(one["left"], units) + ("" if one["enough"] else " ✕"),
            size(one["opposite"], units),
            size(one["wanted"], units),
        ]
        for one in found["costs"]
    ]
    cost_head = [word(f"runout.{key}") for key in ("at", "even", "takes", "left", "opposite", "wanted")]
    said = html.Ul([html.Li(line) for line in found["said"]])
    shown = [grid(word("steps.runout-read"), head, rows)]
    shown += [grid(word("runout.costs"), cost_head, costs)] if costs else []
    return box(word("steps.runout-read"), *shown, said)


def _drawing(job: Job, units: Units) -> html.Section | None:
    drawn = setup_drawing(job, units)
    if not drawn:
        return box(word("steps.drawing"), html.P(word("steps.drawing-none")))
    source = "data:image/svg+xml;base64," + base64.b64encode(drawn.encode()).decode()
    text = drawing_text(job, units)
    return box(word("steps.drawing"), html.Img(src=source, alt=text, className="drawing"), html.P(text))


def _work(found: Mapping[str, Any], units: Units) -> html.Section:
    rows = [
        [
            word(f"work.{one['name']}"),
            figure_text(one["value"], one["unit"], units),
            usual_text(one, units),
            word(f"work.verdict-{one['verdict'] or 'none'}"),
            "" if one["usual"] is None else f"{one['usual']['source']} [{one['usual']['basis']}]",
        ]
        for one in found["figures"]
    ]
    head = [word(f"work.{key}") for key in ("figure", "is", "usual", "verdict", "from")]
    cut = word(f"work.cut-{found['cut']}")
    title = word("work.title", material=word(f"material.{found['material']}"), cut=cut)
    wheel = found["wheel"]
    lines = [word("work.wheel-is", marking=wheel["marking"], why=wheel["why"])]
    if wheel["marking_on_sheet"]:
        lines.append(word("work.on-sheet", marking=wheel["marking_on_sheet"]))
    if found["material_assumed"]:
        lines.insert(0, word("work.assumed"))
    if found["set"]["work_rpm"] is not None:
        lines.append(word("work.set-rpm", rpm=f"{found['set']['work_rpm']:.0f}"))
    if found["set"]["table_speed_most"] is not None:
        lines.append(word("work.set-table", speed=size(found["set"]["table_speed_most"], units)))
    slender = found["slender"]
    if slender is not None:
        bends = small(10 * slender["bends"], units)
        lines.append(
            word("work.slender", ratio=f"{slender['ratio']:.1f}", limit=f"{slender['limit']:g}", bends=bends)
        )
    cautions = [html.Li(f"{one['text']} [{one['source']}; {one['basis']}]") for one in found["cautions"]]
    return box(title, grid(title, head, rows), *(html.P(one) for one in lines), html.Ul(cautions))


def chatter_box(said: str) -> html.Section:
    """What the stream of a gauge on the part shows of chatter."""
    return box(word("steps.chatter"), html.P(said, className="lines"))


def _lap(found: Mapping[str, Any] | None, units: Units) -> html.Section | None:
    return None if found is None else box(word("steps.lap"), html.P(lap_text(found, units)))


def _tries(found: Mapping[str, Any], units: Units) -> html.Section | None:
    if not found["tries"]:
        return None
    head = [word(f"try.{key}") for key in ("at", "feel", "foretold", "least", "text")]
    rows = [
        [
            f"{place(one['depth'], units)}, {one['angle']:g}°",
            word(f"feel.{one['feel']}"),
            word("unknown") if one["foretold"] is None else word(f"feel.{one['foretold']}"),
            small(one["least"], units),
            one["text"] + ("" if one["temperature"] is None else f" {one['temperature']:g} °C"),
        ]
        for one in found["tries"]
    ]
    said = html.Ul([html.Li(line) for one in found["tries"] for line in one["said"]])
    return box(word("steps.tries"), grid(word("steps.tries"), head, rows), said)


def _pictures(found: Mapping[str, Any]) -> html.Section | None:
    if not found["pictures"]:
        return None
    return box(
        word("steps.pictures"),
        *(
            html.Figure(
                [
                    html.Img(src=f"/picture?file={one['file']}", alt=one["text"], className="photo"),
                    html.Figcaption(f"{one['text'] or word('unknown')} ({one['file']})"),
                ]
            )
            for one in found["pictures"]
        ),
    )
