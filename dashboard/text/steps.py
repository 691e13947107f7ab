"""Words of the page Steps: what is done beside the measuring."""

from __future__ import annotations

from typing import Final

STEP_WORDS: Final[dict[str, str]] = {
    "page.steps": "Steps",
    "steps.open": "Still open",
    "steps.nothing": "Nothing is open",
    "steps.checks": "Checks",
    "steps.ok": "✓ ok",
    "steps.not-ok": "✕ not ok",
    "steps.not-due": "not due",
    "steps.result-ok": "✓ ok",
    "steps.result-not-ok": "✕ not ok",
    "steps.result-not-due": "not due",
    "steps.result-open": "○ not checked yet",
    "steps.say": "Say it",
    "steps.trial": "Trial assembly by hand",
    "steps.trial-note": (
        "Clean, oiled, never forced. Depth is the place on the shaft at the bore's datum end. Feel "
        "is one of: "
        "{feels}. Then the temperature in °C and the oil, where they are known."
    ),
    "steps.trial-words": "Depth, angle, feel, temperature, oil, such as 60 90 close 20.5 light oil",
    "steps.clamp": "How it is held; a check with words",
    "steps.clamp-note": "Every reading from here on is of this state; a change of it is asked about.",
    "steps.clamp-words": "Held, such as free, clamped, lock on",
    "steps.check-words": "Check, ok or no or none, and what was found, such as cracks ok penetrant",
    "steps.runout": "Run-out on the centres",
    "steps.runout-note": (
        "Indicator on the part, which is turned slowly by hand between its centres: near both ends before "
        "the first pass, and again before it is taken off. Wheel stopped and clear."
    ),
    "steps.runout-words": (
        "Place, full movement, angle of the highest place, such as 140 0.006 90 (mm) or 5.5 0.0002 90 (in)"
    ),
    "steps.runout-read": "Run-out, and what it costs in chromium",
    "runout.at": "At",
    "runout.of": "Surface",
    "runout.of-base": "base",
    "runout.of-plated": "as plated",
    "runout.of-ground": "ground",
    "runout.full": "Full movement",
    "runout.angle": "Highest at",
    "runout.by": "Read",
    "runout.by-eye": "by eye",
    "runout.by-turned": "turned under a gauge",
    "runout.costs": "Chromium per side at the finished size",
    "runout.even": "Without run-out",
    "runout.takes": "It takes",
    "runout.left": "Left on the thin side",
    "runout.opposite": "Opposite",
    "runout.wanted": "Wanted at least",
    "steps.held-title": "Held now",
    "steps.held": "Readings are taken with the part held: {how}.",
    "steps.held-none": "Nobody has told how the part is held.",
    "steps.drawing": "Pivot and indicator",
    "steps.drawing-none": "The sheet has no swivel: its pivot and where it is read would be drawn here.",
    "steps.treatment": "Stress relief and bake of the base",
    "steps.lap": "Lap for what is left",
    "steps.tries": "Trial assemblies beside what the figures foretell",
    "steps.pictures": "Pictures",
    "steps.picture": "Add a picture",
    "steps.picture-note": (
        "It is made smaller, what the camera wrote into it is taken out, and it stays beside the recording."
    ),
    "steps.picture-text": "What it shows",
    "steps.picture-keep": "Take or choose it",
    "picture.unknown": "the recording shown names no such picture, or it was changed or taken away",
    "check.centres": "Centres clean, greased and seated",
    "check.mandrel": "Mandrel true and tight",
    "check.dog": "Dog tight, its tail covered",
    "check.steady-rest": "Steady rest set",
    "check.wheel": "Wheel looked over, ring-tested, balanced",
    "check.guard": "Guards closed",
    "check.coolant-flow": "Coolant reaches the cut, mist extracted",
    "check.stress-relief": "Base stress-relieved before plating",
    "check.bake": "Baked after plating",
    "check.base-cracks": "Base looked over for cracks before plating",
    "check.cracks": "Ground chromium looked over for cracks",
    "check.burn": "Ground chromium looked over for burn",
    "check.washed": "Washed after lapping",
    "check.waited": "Waited for one temperature",
    "work.title": "Wheel and work for {material}",
    "work.figure": "Figure",
    "work.is": "Is",
    "work.usual": "Usual",
    "work.verdict": "So it is",
    "work.from": "From",
    "work.wheel speed": "Wheel speed",
    "work.work speed": "Work speed",
    "work.speed ratio": "Speed ratio, wheel over work",
    "work.table travel in a work revolution": "Table travel in a work revolution",
    "work.overlap": "Overlap, wheel width over that travel",
    "work.infeed of a pass": "Infeed of the newest pass, on diameter",
    "work.dressing lead": "Dressing lead",
    "work.verdict-usual": "✓ usual",
    "work.verdict-under": "△ under",
    "work.verdict-over": "△ over",
    "work.verdict-not known": "not known",
    "work.verdict-none": "",
    "work.assumed": "The sheet does not say how hard the shaft is: it is taken as hardened.",
    "work.wheel-is": (
        "A wheel to begin with: {marking} ({why}; common practice, no source; marking as ISO 525). What is "
        "printed on the wheel goes first."
    ),
    "work.on-sheet": "On the sheet: {marking}.",
    "work.set-rpm": "Work at {rpm} a minute is the middle of what is usual.",
    "work.set-table": "Table at most {speed} a minute.",
    "work.slender": (
        "{ratio} diameters long between centres: 10 N in its middle bend it by {bends} (a beam on "
        "two supports). A "
        "steady rest is usual over {limit} (common practice, no source)."
    ),
    "material.steel, hardened": "hardened steel",
    "material.steel, soft": "soft steel",
    "material.cast iron": "cast iron",
    "material.hard chrome": "hard chrome",
    "try.at": "Depth and angle",
    "try.feel": "Felt",
    "try.foretold": "Foretold",
    "try.least": "Least clearance there",
    "try.text": "Oil, temperature",
    "feel.loose": "loose",
    "feel.free": "free",
    "feel.close": "close",
    "feel.tight": "tight",
    "feel.binds": "binds",
}
