"""Every sentence that names a length, in English: what the arithmetic found, said in the unit of a person.

Another language is another table with the same names. `capture.metrology.message` says why.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from capture.metrology.message import Length, Message, Sentence
from capture.sheet.job import Units
from capture.text.coach_sentences import COACH_SENTENCES
from capture.text.job_sentences import JOB_SENTENCES
from capture.text.lengths import length
from capture.text.round_sentences import ROUND_SENTENCES

SENTENCES: Final[dict[str, str]] = {
    # the table of the grinder
    "toward": "toward",
    "away": "away from",
    "taper.no-station": "no station is measured on this pass: two, far apart, are needed to see a taper",
    "taper.one-station": (
        "only the station at {z} is measured on this pass: two, far apart, are needed to see a taper"
    ),
    "taper.below": "taper {taper} is less than the stations can tell ({u}): do not chase it",
    "taper.no-stock": (
        "no stock left: the smallest place is {short} under the target, straightening cannot bring it back"
    ),
    "taper.move": (
        "move the table {moved} {way} the wheel where it is read "
        "(indicator {shown}; tailstock end {end} the wheel)"
    ),
    "taper.part": "{move}, {share} of the whole; grind and measure again",
    "taper.bow": "{bow} of bow is left that the swivel cannot correct",
    "taper.unsure": "two stations without an uncertainty cannot say whether the taper is real",
    "taper.two": (
        "two stations show no form: a mouth of {taper} at one of them looks the same; measure between them"
    ),
    "taper.little": "little stock: {left} left, {wanted} is safe",
    # lapping
    "lap.full": (
        "Stop: the bore is at, or not surely under, {limit}, the largest that the plating plan can fill."
    ),
    "lap.straight": "Stop: the bore is straight and round within what the gauge can see.",
    "lap.so-far": "No difference so far: measure one more place before you lap or stop.",
    "lap.so-far-more": "No difference so far: measure {places:g} more places before you lap or stop.",
    "lap.tightest": "Tightest{where}: {tight} to go to {goal}.",
    "lap.nowhere": "",
    "lap.at": " at {z}",
    "lap.at-angle": " at {z}, {angle:g}°",
    "lap.angle": ", {angle:g}°",
    "lap.past": "Lapping to the largest place would pass the limit of the plating plan: plan anew.",
    "lap.strokes": (
        "About {strokes:.0f} ± {u:.0f} strokes of the same kind are left: measure again after {after:.0f}."
    ),
    "lap.minutes": "About {minutes:.1f} minutes of the same kind are left: measure again at half.",
    "lap.unknown": (
        "How fast the lap cuts is not known yet: say the strokes or minutes (lap 60), then measure."
    ),
    # plating
    "plate.through": "Ground through: the runout leaves {least} of chromium on one side.",
    "plate.under": "Only {least} per side is left at the worst place; {wanted} is wanted.",
    "plate.thin": "Too thin: {least} per side is under {limit}. Ask the plater.",
    "plate.thick": (
        "Too thick in one application: {deposit} per side is over {limit}: rough, edge build-up, pitting; "
        "a nickel underlay builds up the rest."
    ),
    "plate.little": "Little to grind: {stock} per side is under the usual {limit}.",
    "plate.much": "Much to grind: {stock} per side is over the usual {limit}.",
    "plate.edges": "Round edges to {radius} or more: chromium builds up on edges and chips there.",
    "plate.finish": "Chromium does not level: finish the base to {finish} or better.",
    "plate.passes": "Passes of {deepest} at most, and much coolant: heat cracks and peels chromium.",
    "plate.not-held": (
        "chromium of {least} to {most} per side cannot be held with a runout of {runout}: "
        "it would be {low} to {high}"
    ),
    "plate.nothing-left": "{thickness} of chromium per side leaves nothing of {finished}",
    "plate.not-over-0": "{what} is {came}; it must be over 0",
    "plate.below-0": "{what} is {came}; it must be 0 or more",
    "plan.no-order": "no order: {why}",
    "plan.stock": (
        "stock of {stock} per side is under the {due} that taper, spring and margin ask for "
        "(common practice, no source)"
    ),
    "plan.runout": "runout of {runout} is over {limit} ({source}; {basis}): clean the centres",
    # what cannot be proven of a fit, and what could
    "proof.cannot": (
        "a clearance of {least} to {most} cannot be proven with these gauges, however well it is ground: "
        "its standard uncertainty is {u} at best and may be {due}"
    ),
    "proof.no-band": (
        "a clearance of {least} to {most} cannot be proven with these gauges, however well it is ground: its "
        "standard uncertainty is {u} at best, and the band of {band} that grinding needs is as wide as "
        "the limits"
    ),
    "proof.could": (
        "what could prove it: gauges for bore and for shaft with limits of ±{limits} or closer that show "
        "steps of {step} or finer, or both set on one master, whose own error then leaves"
    ),
    "proof.laboratory": (
        "gauges as close as that are a laboratory's (common practice, no source): have both parts "
        "measured there"
    ),
    "proof.warm": "bore and shaft must be within {kelvin:.2g} K of each other, or that alone uses it up",
    "proof.wide": "with the gauges of the sheet the limits of the clearance must be {width} apart",
    "proof.simple": (
        "the rule of this sheet accepts what reads inside the limits; with an uncertainty of ±{U} that is "
        "no proof"
    ),
    # what a profile leaves open
    "profile.of": "{part}: {finding}",
    "profile.one-station": "one station: taper is not known",
    "profile.two-stations": "fewer than three stations: barrel and hourglass are not known",
    "profile.bell-mouth": (
        "bell mouth is not known: three stations are due between the outer fifths of the length"
    ),
    "profile.angles": "fewer than three angles at a station: ovality there is not known",
    "profile.two-point": "two-point diameters do not show odd lobes or a bent axis",
    # gauges and masters
    "drift.over": "{start} to {end} of the recording: drift {drift}, over the limit of {limit}",
    "drift.within": "{start} to {end} of the recording: drift {drift}, within the limit of {limit}",
    "drift.of": "{gauge}: {run}",
    "master.far": (
        "{part}: {gauge} was read more than {farthest} from its master, so that its own error comes in"
    ),
    "measured.unit": (
        "{part}: {came} came where the nominal size is {nominal}: the gauge {gauge!r} speaks {due!r} and was "
        "read as {has!r}: set the unit of this gauge on the sheet"
    ),
    "measured.other": (
        "{part}: {came} came where about {nominal} was due: another part, or the gauge shows a difference "
        "and the sheet gives no zero for it"
    ),
    "measured.early": "{part}: measured in the stage {stage!r}, and not finished yet",
    "measured.since": "{part}: not measured since pass {number:.0f}",
    "measured.open": "{part}: {left:.0f} of {whole:.0f} places still to measure, the first at {first}",
    "measured.from": "{recording}: {why}",
    # the fit
    "fit.unmeasured": (
        "up to {missing} of the {whole} that are engaged lie beyond the outermost stations: "
        "nothing is known there"
    ),
    "fit.unfinished": (
        "shaft: not finished, its largest place is {over} larger than the fit allows; that can still come off"
    ),
    "fit.none": "clearance: {why}",
    "fit.apart": (
        "at offset {offset} no measured place of the shaft stands in the measured part of the bore"
    ),
    "fit.twice": "the {part} has two sizes at z = {z}: one is due",
    **COACH_SENTENCES,
    **JOB_SENTENCES,
    **ROUND_SENTENCES,
}


def sentence(it: Sentence, units: Units, step: float | None = None) -> str:
    """A sentence in words, its lengths in *units* and no finer than *step* (mm); a text is one already.

    >>> from capture.metrology.message import message, small
    >>> sentence(message("taper.bow", bow=small(0.00508)), "in")
    '2.0 tenths of bow is left that the swivel cannot correct'
    """
    if isinstance(it, str):
        return it
    figures = {}
    for name, figure in it.figures:
        known = length(figure, units, step) if isinstance(figure, Length) else figure
        figures[name] = sentence(known, units, step) if isinstance(known, Message) else known
    return SENTENCES[it.name].format(**figures)


def sentences(each: Iterable[Sentence], units: Units, step: float | None = None) -> list[str]:
    """Several, in order."""
    return [sentence(one, units, step) for one in each]
