"""Sentences of the job beside the grinding: what came back from the plater, wheel and work, lapping."""

from __future__ import annotations

from typing import Final

JOB_SENTENCES: Final[dict[str, str]] = {
    "plate.salvage": (
        "{least} per side left is a thin dense coat's thickness, not that of a ground layer that "
        "builds a worn "
        "part up: {limit} is usual at least"
    ),
    # the shaft as stripped, before it is plated
    "stripped.over": (
        "stripped to {came} {at}, over {due}: ground to size only {left} per side of chromium stays there, "
        "{wanted} is wanted; strip it further before it is plated"
    ),
    "stripped.under": (
        "stripped to {came} {at}, under {due}: the chromium grows {thick} per side thick there, {allowed} is "
        "the most that the sheet allows; ask the plater before it is plated"
    ),
    # what came back from the plater
    "received.anywhere": "at the worst place",
    "received.at": "at {z}, {angle:g}°",
    "received.cleans": "the finish of {finished} can be reached: at least {stock} per side comes off, {at}",
    "received.cleans-unsure": (
        "it is not sure that the finish of {finished} can be reached: {stock} per side is over it {at}, "
        "which the gauge cannot tell from none"
    ),
    "received.short": (
        "the finish of {finished} cannot be reached: {stock} per side is over it {at}, runout taken off; "
        "do not grind, talk to the plater"
    ),
    "received.little": (
        "little stock: {stock} per side where {due} is due for taper, spring and margin: make it parallel "
        "first"
    ),
    "received.left": (
        "ground to it, at least {left} per side of chromium stays everywhere; {wanted} is wanted"
    ),
    "received.left-unsure": (
        "ground to it, {left} per side of chromium stays {at}; that {wanted} is left everywhere is not sure"
    ),
    "received.thin": (
        "ground to it, only {left} per side of chromium stays {at}, under the {wanted} wanted: it was not "
        "stripped far enough there"
    ),
    "received.unstripped": (
        "no place was measured stripped: how much chromium stays is not known (say stage stripped before "
        "plating, and measure the same places)"
    ),
    "received.deposit": "{least} to {most} per side were deposited; {ordered} was ordered",
    "received.less": "less was deposited than ordered {at}",
    "received.taper": "taper as plated {taper}: it comes out of the same stock",
    "received.parallel": "taper as plated {taper}, less than the places can tell",
    # strokes of a lap
    "stroke.straight": "even strokes over the whole length, out of each end by a third of the lap; "
    "turn it end for end",
    "stroke.taper": (
        "more strokes at the small end, lap entered from there; turn it end for end often, then even strokes"
    ),
    "stroke.bell-mouth": (
        "short strokes inside, the lap kept out of the wide mouth: out of that end by a tenth at most; then "
        "a few even strokes"
    ),
    "stroke.barrel": (
        "the middle is wide: short strokes at each end by turns, the lap longer than the wide part "
        "so that it "
        "bridges it"
    ),
    "stroke.tight-place": "short strokes over the tight place alone, measured often; then a few even strokes",
    "stroke.not-known": "three stations are needed to know the form: measure more before choosing "
    "the strokes",
    # what is asked before a reading is believed
    "ask.clamp": (
        "{part}: held “{before}” before and “{now}” now, and the same places differ by {differs} on "
        "the mean: "
        "is it the part, or how it is held?"
    ),
    "ask.clamp-untold": (
        "{part}: how it is held while it is lapped and measured is not known: say clamp free, clamp clamped "
        "or clamp locked"
    ),
    "ask.clamp-shaft": (
        "shaft: held “{before}” for the pass before and “{now}” now, which can move its size by itself: "
        "measure it held one way before more is ground off"
    ),
    "ask.clamp-mixed-bore": (
        "bore: places of this stage were read held in different ways ({ways}): read them again alike"
    ),
    "ask.clamp-mixed-shaft": (
        "shaft: places of this pass were read held in different ways ({ways}): read them again alike"
    ),
    "ask.washed": "lapped since it was last washed: wash bore, grooves and oil holes, dry, then say "
    "checked washed ok",
    "ask.waited": "washed and not waited: let part and gauge come to one temperature, then say "
    "checked waited ok",
    "ask.cracks": "ground chromium is not yet looked over for cracks and burn: say checked cracks, "
    "checked burn",
    "ask.bake": "this base is to be baked after plating: ask the plater for time and temperature, "
    "then say checked bake",
    "ask.relief": "this base is to be stress-relieved before plating: say checked stress-relief when it is",
    "ask.setup": "before the first pass: {open} not yet checked",
    "ask.not-ok": "{what} was found not ok{text}: put it right, then check it again",
    "ask.steady": (
        "{ratio:.1f} diameters long between centres and no steady rest: 10 N of the wheel bend it by {bends}"
    ),
    "ask.too-fast": "STOP: the wheel runs at {times:.2f} times the speed marked on it",
    "ask.overdue": "the calibration of {what} is overdue since {due}: nothing is proven with it "
    "until it is renewed",
    "ask.runout": (
        "before the first pass: run-out not measured; turn the part by hand under an indicator at both "
        "ends and say runout Z FULL ANGLE"
    ),
    "ask.runout-thin": "run-out leaves {left} per side of chromium on the thin side, under the {wanted} "
    "wanted: set up anew before grinding",
    "ask.runout-end": "ground: measure the run-out again on the same centres before the part is taken off",
    "ask.setup-end": "before the part is taken off: {open} not looked at since grinding",
    # run-out at the set-up
    "runout.place": "{z}, {angle:.0f}°",
    "runout.only": "runs out by {full} full movement at {at}; the sheet has no plating that it could cost",
    "runout.cost": (
        "runs out by {full} full movement at {at}: that takes {takes} per side off the thin side, where "
        "{left} of chromium stays ({opposite} opposite, {wanted} wanted)"
    ),
    "runout.thin": (
        "runs out by {full} full movement at {at}: ground like this only {left} per side of chromium stays "
        "there ({opposite} opposite), under the {wanted} wanted; look at centres and dog and set it up anew, "
        "do not grind"
    ),
    "runout.no-stock": (
        "the low side does not clean up at {at}: it is {short} per side under the finished size"
    ),
    "runout.even": "read on the plated surface: the deposit is taken as even all round, the base to run out "
    "alike",
    "runout.by-order": "the base there was not measured stripped: it is taken as ordered",
    "runout.no-angle": "where it stands highest was not given: the thin side is not known by its angle",
    "runout.true": "ground, it runs out by {full} full movement at the most, at {at}: within {limit}, it "
    "turned on one axis throughout",
    "runout.moved": (
        "ground, it still runs out by {full} full movement at {at}, over {limit} (common practice, no "
        "source): a part is true to the centres that it was ground on; look at centres, dog and steady "
        "rest before the last pass is believed"
    ),
    # the trial assembly
    "try.as-predicted": "tried at {at}, {angle:g}°: {feel}, as {least} of least clearance predicts",
    "try.closer": (
        "tried at {at}, {angle:g}°: {feel}, closer than {least} of least clearance predicts: odd "
        "lobes, a bent "
        "axis, dirt, or a burr; a two-point gauge does not see the first two"
    ),
    "try.looser": (
        "tried at {at}, {angle:g}°: {feel}, looser than {least} of least clearance predicts: look "
        "at the master "
        "and the temperatures"
    ),
    "try.unknown": "tried at {at}, {angle:g}°: {feel}; no clearance is worked out there",
    "try.place": "the tightest place at that depth is {bore} in the bore, {shaft} on the shaft",
}
