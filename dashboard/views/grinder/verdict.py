"""The verdict as a sentence that reads from two metres, and the line under it."""

from __future__ import annotations

from capture.metrology.grinding.judgement import Outlook
from capture.sheet.job import Units
from capture.sheet.measuring_plan import PlannedPlace
from capture.state.cold_size import expansion_of
from capture.state.session import State
from capture.text.catalogue import sentences
from capture.text.lengths import percent
from dashboard.sources.scene import Scene
from dashboard.text.screen import WORDS, word
from dashboard.views.lengths import place as place_words
from dashboard.views.lengths import size, small
from dashboard.views.size import fresh, measured_row, now, outlook, target, to_go, unmeasured


def verdict(scene: Scene, units: Units) -> dict[str, str | None]:
    """The sentence, the line under it, and the state that gives the board its colour and shape."""
    state = scene.state
    if scene.kind == "loading":
        return _board("none", word("say.loading", name=scene.name), _loaded(scene))
    if state is None:
        return _board("none", word("say.waiting"), word("more.waiting"))
    early = _before(state, units)
    if early is not None:
        return _board("none", *early)
    found, number = outlook(state), unmeasured(state)
    board, sentence, more = ("none", "", "") if found is None else _found(state, found, units)
    if number is not None:
        before = word("more.measure", before=sentence) if sentence else ""
        return _board("none", word("say.measure", number=number), before)
    if found is None:
        return _board("none", word("say.no-pass"), word("more.no-pass"))
    return _board(board, sentence, " ".join(filter(None, [more, _doubt(found, units)])))


def _loaded(scene: Scene) -> str:
    if scene.loaded is not None:
        return word("more.loading", share=f"{scene.loaded:.0%}")
    return word("more.loading-seq", seq=scene.state.seq if scene.state is not None else 0)


def _board(state: str, sentence: str, more: str) -> dict[str, str | None]:
    """The board; `spoken` changes with the verdict only, for who hears the page instead of seeing it."""
    spoken = WORDS.get(f"flag.{state}", sentence)
    return {"say": sentence, "more": more, "board@data-state": state, "spoken": spoken}


def _before(state: State, units: Units) -> tuple[str, str] | None:
    """What is said while nothing is being ground."""
    stations = state.stations
    if stations.mastering is not None:
        return word("say.mastering", gauge=stations.mastering), word("more.mastering")
    newest = stations.taken.last
    if newest is not None and newest.part == "bore":
        place = here(state, "bore", units)
        return word("say.measuring", part=word("part.bore")), word("more.measuring", place=place)
    if newest is None and now(state) is None:
        return word("say.no-size"), word("more.no-size", place=here(state, "shaft", units))
    return None


def _found(state: State, found: Outlook, units: Units) -> tuple[str, str, str]:
    come, predicted = small(found.to_come, units), size(found.predicted, units)
    match found.verdict:
        case "cutting":
            return _cutting(state, found, units)
        case "sparking-out":
            if found.to_come is None:
                return "sparking-out", word("say.sparking-out"), ""
            more = word("more.sparking-out", next=small(found.next_removal, units), predicted=predicted)
            return "sparking-out", word("say.sparking-out-come", come=come), more
        case "sparked-out" | "at-size":
            final = found.predicted if found.predicted is not None else found.size
            sentence = word(f"say.{found.verdict}", size=size(final, units))
            return found.verdict, sentence, _done(state, final, units)
        case "warm":
            return _warm(state, predicted, units)
        case _:
            return found.verdict, word(f"say.{found.verdict}"), word(f"more.{found.verdict}")


def _warm(state: State, predicted: str, units: Units) -> tuple[str, str, str]:
    """A part that was warm when it was measured, and may have cooled since."""
    row, warmth = measured_row(state), fresh(state, "shaft")
    growth = row.growth if row is not None else 0.0
    part = expansion_of(state.job, "shaft")
    left = None if warmth is None else part.alpha * (warmth.value - 20.0) * (state.grind.reference or 0.0)
    if left is not None and left <= state.job.settings.warm.limit:
        return "warm", word("say.cooled"), word("more.cooled", predicted=predicted)
    return "warm", word("say.warm", growth=small(growth, units)), word("more.warm", predicted=predicted)


def _cutting(state: State, found: Outlook, units: Units) -> tuple[str, str, str]:
    left = to_go(state)
    if left is None:
        return "cutting", word("say.cutting"), ""
    if left < 0:
        return "stop", word("say.cutting-under", togo=small(-left, units)), ""
    if found.to_come is None:
        return "cutting", word("say.cutting-to-go", togo=small(left, units)), ""
    come = small(found.to_come, units)
    if found.to_come >= left:
        more = word("more.cutting-stop", predicted=size(found.predicted, units))
        return "stop", word("say.cutting-stop", come=come), more
    return "cutting", word("say.cutting-to-go", togo=small(left, units)), word("more.cutting", come=come)


def _done(state: State, final: float | None, units: Units) -> str:
    spark_out = state.job.settings.spark_out
    limit, confidence = small(spark_out.limit, units), percent(spark_out.confidence)
    aim = target(state.job, state.stations)
    above = aim is not None and final is not None and final > (aim.band or (aim.least, aim.most))[1]
    if aim is not None and final is not None and above:
        return word("more.sparked-out-left", limit=limit, togo=small(final - aim.aim, units))
    return word("more.sparked-out", limit=limit, confidence=confidence)


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
