"""The verdict as a sentence that reads from two metres, and the line under it."""

from __future__ import annotations

from capture.analysis.grind.coach_messages import chances
from capture.analysis.grind.headline import Headline, measured_row
from capture.metrology.grinding.judgement import Outlook
from capture.sheet.job import Units
from capture.sheet.measuring_plan import PlannedPlace
from capture.state.cold_size import expansion_of
from capture.state.session import State
from capture.text.catalogue import sentence as sentence_of
from capture.text.catalogue import sentences
from capture.text.lengths import percent
from capture.text.rounded import Shown, quantum
from dashboard.sources.scene import Scene
from dashboard.text.screen import WORDS, word
from dashboard.views.lengths import place as place_words
from dashboard.views.lengths import size, small
from dashboard.views.size import fresh, head, shown


def verdict(scene: Scene, units: Units) -> dict[str, str | None]:
    """The sentence, the line under it, and the state that gives the banner its colour and shape."""
    state = scene.state
    if scene.kind == "loading":
        return _board("none", word("say.loading", name=scene.name), _loaded(scene))
    if state is None:
        return _board("none", word("say.waiting"), word("more.waiting"))
    found = head(state)
    return _board(*(_early(found, state, units) or _called(found, state, units)))


def _loaded(scene: Scene) -> str:
    if scene.loaded is not None:
        return word("more.loading", share=percent(scene.loaded))
    return word("more.loading-seq", seq=scene.state.seq if scene.state is not None else 0)


def _board(state: str, sentence: str, more: str) -> dict[str, str | None]:
    """The banner; `spoken` changes with the verdict only, for screen readers."""
    spoken = WORDS.get(f"flag.{state}", sentence)
    return {"say": sentence, "more": more, "banner@data-state": state, "spoken": spoken}


def _early(found: Headline, state: State, units: Units) -> tuple[str, str, str] | None:
    """What is said while there is nothing to judge."""
    match found.verdict:
        case "mastering":
            gauge = state.stations.mastering
            return "none", word("say.mastering", gauge=gauge), word("more.mastering")
        case "measuring the bore":
            more = word("more.measuring", place=here(state, "bore", units))
            return "none", word("say.measuring", part=word("part.bore")), more
        case "no size":
            return "none", word("say.no-size"), word("more.no-size", place=here(state, "shaft", units))
        case "no pass":
            return "none", word("say.no-pass"), _before_passes(state)
        case "not measured":
            more = word("more.measure", place=here(state, "shaft", units))
            return "none", word("say.measure", number=found.newest), more
        case "not wholly measured":
            return "none", _open(found, units), word("more.open")
        case _:
            return None


def _before_passes(state: State) -> str:
    """How the passes come to be known: said by a person, or found from a gauge."""
    finds = any(one.measures in {"infeed", "power"} or one.rides is not None for one in state.job.gauges)
    return word("more.no-pass-found" if finds else "more.no-pass")


def _open(found: Headline, units: Units) -> str:
    """How many places are open, and which comes first."""
    first = found.open[0]
    place = word("unknown") if first.z is None else place_words(first.z, units)
    if len(found.open) == 1:
        return word("say.open-one", place=place)
    return word("say.open", number=len(found.open), place=place)


def _called(found: Headline, state: State, units: Units) -> tuple[str, str, str]:
    if found.outlook is None:
        return "none", word("say.no-pass"), _before_passes(state)
    banner, sentence, more = _sentence(found, found.outlook, state, units)
    return banner, sentence, " ".join(filter(None, [more, _doubt(found.outlook, units)]))


def _sentence(found: Headline, outlook: Outlook, state: State, units: Units) -> tuple[str, str, str]:
    rounded, step = shown(found, units), found.step
    come, predicted = small(rounded.to_come, units, step), size(rounded.predicted, units, step)
    match found.verdict:
        case "cutting":
            return _cutting(found, rounded, units)
        case "sparking-out":
            if rounded.to_come is None:
                return "sparking-out", word("say.sparking-out"), ""
            coming = _about(outlook.next_removal, units, step)
            more = word("more.sparking-out", next=coming, predicted=predicted)
            return "sparking-out", word("say.sparking-out-come", come=come), more
        case "sparked-out" | "at-size":
            final = rounded.predicted if rounded.predicted is not None else rounded.size
            sentence = word(f"say.{found.verdict}", size=size(final, units, step))
            look = "unsure" if found.verdict == "sparked-out" and found.unsure else found.verdict
            return look, sentence, _done(found, rounded, state, units)
        case "warm":
            return _warm(state, predicted, units, step)
        case _:
            return found.verdict, word(f"say.{found.verdict}"), word(f"more.{found.verdict}")


def _about(removal: float | None, units: Units, step: float | None) -> str:
    """What a pass takes, no finer than the gauge, and never nothing while it takes something."""
    one = quantum(step, units)
    if removal is not None and 0.0 < removal < 0.5 * one:
        return word("more.less-than", one=small(one, units, step))
    return word("more.about", removal=small(removal, units, step))


def _warm(state: State, predicted: str, units: Units, step: float | None) -> tuple[str, str, str]:
    """A part that was warm when it was measured, and may have cooled since."""
    row, warmth = measured_row(state), fresh(state, "shaft")
    growth = row.growth if row is not None else 0.0
    part = expansion_of(state.job, "shaft")
    left = None if warmth is None else part.alpha * (warmth.value - 20.0) * (state.grind.reference or 0.0)
    if left is not None and left <= state.job.settings.warm.limit:
        return "warm", word("say.cooled"), word("more.cooled", predicted=predicted)
    return "warm", word("say.warm", growth=small(growth, units, step)), word("more.warm", predicted=predicted)


def _cutting(found: Headline, rounded: Shown, units: Units) -> tuple[str, str, str]:
    left, step = rounded.to_go, found.step
    if left is None:
        return "cutting", word("say.cutting"), ""
    if left < 0:
        return "stop", word("say.cutting-under", togo=small(-left, units, step)), ""
    if rounded.to_come is None:
        return "cutting", word("say.cutting-to-go", togo=small(left, units, step)), ""
    come = small(rounded.to_come, units, step)
    if rounded.to_come <= 0.0 and left <= 0.0:
        one = small(quantum(step, units), units, step)
        return "stop", word("say.cutting-at"), word("more.cutting-at", one=one)
    if rounded.to_come >= left:
        more = word("more.cutting-stop", predicted=size(rounded.predicted, units, step))
        return "stop", word("say.cutting-stop", come=come), more
    return (
        "cutting",
        word("say.cutting-to-go", togo=small(left, units, step)),
        word("more.cutting", come=come),
    )


def _done(found: Headline, rounded: Shown, state: State, units: Units) -> str:
    spark_out = state.job.settings.spark_out
    limit, confidence = small(spark_out.limit, units), percent(spark_out.confidence)
    aim, final = found.aim, found.predicted if found.predicted is not None else found.size
    if aim is not None and final is not None and final > (aim.band or (aim.least, aim.most))[1]:
        over = _over(rounded)
        if over is not None and over <= 0.0:
            return word("more.sparked-out-over", limit=limit)
        return word("more.sparked-out-left", limit=limit, togo=small(over, units, found.step))
    if found.unsure:
        return word("more.unsure", chances=_chances(state))
    return word("more.sparked-out", limit=limit, confidence=confidence)


def _over(rounded: Shown) -> float | None:
    """What the part will be above the aim, as both are shown, mm."""
    if rounded.predicted is None or rounded.aim is None:
        return None
    return rounded.predicted - rounded.aim


def _chances(state: State) -> str:
    """How sure it is that every place is inside the band, and what else it may be."""
    coaching = state.grind.coaching
    if coaching is None:
        return word("unknown")
    return sentence_of(chances(coaching.landing), state.job.units)


def _doubt(found: Outlook, units: Units) -> str:
    """What the verdict leaves open, where it does not itself say so."""
    if found.verdict in {"growing", "warm", "stalled"}:
        return ""
    if found.method == "sequential":
        return word("more.sequential")
    why = "; ".join(sentences(found.why, units))
    return word("more.doubt", why=why) if why and found.method == "model" else ""


def here(state: State, part: str, units: Units) -> str:
    """The place in hand of a part, in words."""
    return place_of(state.stations.plan_of("bore" if part == "bore" else "shaft").here, part, units)


def place_of(place: PlannedPlace, part: str, units: Units) -> str:
    """A place in words."""
    if place.z is None:
        return word("places.anywhere", part=word(f"part.{part}"))
    return word(
        "places.of", part=word(f"part.{part}"), z=place_words(place.z, units), angle=f"{place.angle or 0:g}"
    )
