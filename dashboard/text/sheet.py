"""Words of the job sheet's form that its schema does not have: headings and what its buttons say."""

from __future__ import annotations

from typing import Final

SHEET_WORDS: Final[dict[str, str]] = {
    "job.must": "must be given",
    "job.must-note": "* needed if you use the group. An empty field shows its default.",
    "job.undo": "Undo the last change",
    "job.undone": "Undone: {label}.",
    "job.fit-list": "Limits of a standard fit",
    "job.fit-none": "– give the nominal size first –",
    "job.sight": "Pick from the gauges in sight",
    "job.looking": "Looking for gauges …",
    "job.sight-none": "No gauge is in sight: plug it in, switch it on, and look again.",
    "job.start": "To the jobs, to start it",
    "job.asked": "No faults. Answer the fields with a question.",
    "job.meant": "Not saved yet: read the questions. If the values are right, save again.",
    "job.more": "More of it: asking, link, pins",
    "job.settings": "Limits and settings",
    "job.settings-note": (
        "An empty field shows its default. Lengths here are in millimetres, whatever the sheet uses."
    ),
    "job.add-gauge": "Add a gauge",
    "job.remove-gauge": "Remove this gauge",
    "job.group-wheel": "Grinding wheel",
    "job.group-work": "Work between centres",
    "job.group-pedal": "Pedal or keypad",
    "job.add-pedal": "Add a pedal",
    "job.remove-pedal": "Remove this pedal",
    "job.group-settings.spark_out": "Spark-out",
    "job.group-settings.warm": "Warm part",
    "job.group-settings.growing": "Growing part",
    "job.group-settings.readings": "Readings",
    "job.group-settings.passes": "Passes",
    "job.group-settings.placing": "Sizes from a gauge in the hand",
    "job.group-settings.sweep": "Sweep of a bore gauge",
    "job.group-settings.masters": "Masters",
    "job.group-settings.form": "Form that two-point gauges do not see",
    "job.group-settings.proof": "Proof",
    "job.group-settings.plan": "Plan",
    "job.group-settings.coach": "Coach",
}
