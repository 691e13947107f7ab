"""Words of the page Roundness: a part that turns under gauges, its lobes, and those that are not seen."""

from __future__ import annotations

from typing import Final

ROUNDNESS_WORDS: Final[dict[str, str]] = {
    "page.roundness": "Roundness",
    "roundness.begin": "Begin and end a run",
    "roundness.begin-note": (
        "Let the part turn ten times or more between centres, in a V or under two points. Mark each "
        "turn (a pedal, or Turn): the result is surer, and shows where the high spots are. Guards on, hands "
        "and sleeves clear of turning parts."
    ),
    "roundness.begin-words": "Part, place, set-up and gauge, such as shaft 140 v90 dial rpm=40",
    "roundness.mask-words": "Keyway from and to, degrees from the mark, such as 40 58",
    "roundness.turn": "Turn",
    "roundness.done": "Run done",
    "roundness.none": "No roundness run yet. Begin one below.",
    "roundness.under-way": "Run in progress: {readings} readings. Press Run done to see the lobes.",
    "roundness.place": "{part} at {place}",
    "roundness.stage": ", {stage}",
    "roundness.pass": ", after pass {number}",
    "roundness.shaft": "Shaft",
    "roundness.bore": "Bore",
    "roundness.sum": "Roundness by lobes 2 to 15",
    "roundness.odd": "Odd lobes, amplitude",
    "roundness.run-out": "Run-out between centres",
    "roundness.u": "± {u} (k = 2)",
    "roundness.lobes": "Lobes",
    "roundness.column-lobes": "Lobes",
    "roundness.column-amplitude": "Amplitude",
    "roundness.column-u": "± (k = 2)",
    "roundness.column-top": "Top at",
    "roundness.column-factor": "Factor",
    "roundness.column-seen": "Seen",
    "roundness.seen": "✓ yes",
    "roundness.not-clear": "none clear",
    "roundness.not-seen": "✕ no: {why}",
    "roundness.contacts": "the contacts pass it by",
    "roundness.slow": "gauge too slow",
    "roundness.angles": "too few angles",
    "roundness.noise": "lost in noise",
    "roundness.turns": "Indicator over the turns: {gauge}",
    "roundness.turns-axis": "turns",
    "roundness.counted": "reading",
    "roundness.left-out": "left out: keyway, chip, off the surface",
    "roundness.runs": "Runs",
    "roundness.know": "What to know",
    "roundness.profile": "Form: radius round the part",
    "roundness.profile-axis": "degrees from the mark",
    "roundness.profile-line": "lobes clear of their uncertainty",
    "roundness.profile-none": "No form is drawn: these runs do not show how the lobes lie to each other.",
}
