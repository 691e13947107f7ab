"""Names what is said aloud: a verdict that changed, a unit that is not the sheet's, garbled lines."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from msgspec.structs import replace

from capture.events import Event, Flag, Instant, Reading
from capture.metrology.grinding.judgement import Outlook
from capture.metrology.units import MM_PER_INCH
from capture.sheet.job import Gauge, Job
from capture.state.grinding.pass_verdict import pass_verdict
from capture.state.grinding.passes import Grind, PassRow
from capture.state.health import GARBLED_HINT, Health
from capture.state.stations import Stations, Warmth, Zero

VERDICTS = ("cutting", "sparking-out", "sparked-out", "growing", "warm", "stalled")


def topic(flag: Flag) -> str:
    """What a flag is about: a newer one of the same topic takes its place."""
    if flag.what in VERDICTS:
        return "verdict"
    return f"{flag.what}:{flag.gauge}" if flag.gauge else flag.what


def due(
    job: Job,
    health: Mapping[str, Health],
    grind: Grind,
    raised: Mapping[str, Event],
    at: Instant,
    newest_gauge: str | None,
    stations: Stations,
    warmth: Mapping[str, Warmth],
) -> tuple[Flag, ...]:
    """The flags that the state calls for and that have not been raised.

    Of the gauges only *newest_gauge* is looked at, or all where it is None: at each beat.
    """
    each = health if newest_gauge is None else {newest_gauge: health[newest_gauge]}
    zeros = stations.zeros
    masters = _of_masters(job, zeros, warmth, raised, at) if zeros else ()
    return (*_of_passes(job, grind, stations, raised), *_of_gauges(job, each, raised, at), *masters)


def _of_passes(job: Job, grind: Grind, stations: Stations, raised: Mapping[str, Event]) -> Iterator[Flag]:
    """What is called of the pass in hand; nothing of a pass that is not wholly measured but a warning."""
    row, verdict_of_pass = grind.row, pass_verdict(grind, stations, job)
    if row is None or row.outlook is None or verdict_of_pass is None:
        return
    called = verdict_of_pass.called
    if called == "not wholly measured":
        return
    verdict = "sparked-out" if called == "at-size" else called
    # Cutting is what a grind begins with: it is news only after something else.
    if verdict != _what(raised.get("verdict")) and not (verdict == "cutting" and "verdict" not in raised):
        yield _pass_flag(verdict, row, row.outlook, job)
    if called == "at-size" and _is_news("at-size", raised):
        yield _pass_flag("at-size", row, row.outlook, job)


def _what(event: Event | None) -> str | None:
    return event.fact.what if event is not None and isinstance(event.fact, Flag) else None


def _is_news(what: str, raised: Mapping[str, Event]) -> bool:
    """Whether it has not been said since the verdict last changed."""
    said, verdict = raised.get(what), raised.get("verdict")
    return said is None or (verdict is not None and verdict.seq > said.seq)


def _pass_flag(what: str, row: PassRow, outlook: Outlook, job: Job) -> Flag:
    figures = {
        "size": outlook.size,
        "removed": outlook.removed,
        "to_come": outlook.to_come,
        "next_removal": outlook.next_removal,
        "p_below": outlook.p_below,
        "predicted": outlook.predicted,
        "u_predicted": outlook.u_predicted,
    }
    settings: dict[str, float | str] = {
        "spark_out.limit": job.settings.spark_out.limit,
        "spark_out.confidence": job.settings.spark_out.confidence,
        "warm.limit": job.settings.warm.limit,
        "method": outlook.method,
    }
    return Flag(what, row.number, (row.seq,), figures, settings)


def _of_gauges(
    job: Job, health: Mapping[str, Health], raised: Mapping[str, Event], at: Instant
) -> Iterator[Flag]:
    for name, state in health.items():
        gauge = job.gauge(name)
        if gauge is not None:
            of = () if state.last_seq is None else (state.last_seq,)
            for flag in _complaints(gauge, state, at):
                said = raised.get(topic(flag))
                if said is None or _over(state, said):
                    yield replace(flag, of=of)


def _of_masters(
    job: Job,
    zeros: Mapping[str, Zero],
    warmth: Mapping[str, Warmth],
    raised: Mapping[str, Event],
    at: Instant,
) -> Iterator[Flag]:
    """Gauges that count the wrong way, or whose zero was taken long ago or in another warmth."""
    limits = job.settings.masters
    for name, zero in zeros.items():
        if zero.wrong_way and f"sign-differs:{name}" not in raised:
            yield Flag("sign-differs", 0, (), gauge=name)
        said = raised.get(f"check-master:{name}")
        if not zero.n or (said is not None and said.at > zero.at):
            continue
        age = (at.mono - zero.at.mono) / 1e9
        place, before = zero.warmth or ("", 0.0)
        now = warmth.get(place)
        change = now.value - before if now is not None else 0.0
        if age <= limits.check_after and abs(change) <= limits.check_warm:
            continue
        figures: dict[str, float | None] = {"age": age, "change": change if now is not None else None}
        settings: dict[str, float | str] = {
            "masters.check_after": limits.check_after,
            "masters.check_warm": limits.check_warm,
        }
        if abs(change) > limits.check_warm:
            figures |= {"before": before, "warmer": 1.0}
            settings["place"] = place
        yield Flag("check-master", 0, (), figures, settings, gauge=name)


def _over(state: Health, said: Event) -> bool:
    """A flag about silence or garbage may come again once the gauge has sent something since."""
    once = isinstance(said.fact, Flag) and said.fact.what in {"unit-differs", "digits-fewer"}
    return not once and state.last_seq is not None and state.last_seq > said.seq


def _complaints(gauge: Gauge, state: Health, at: Instant) -> Iterator[Flag]:
    if state.in_a_row >= GARBLED_HINT:
        why: dict[str, float | str] = {"why": state.last_garbled[:80]}
        yield Flag("garbled", 0, (), {"came": float(GARBLED_HINT)}, why, gauge=gauge.name)
    silence = state.silent_for(at, gauge)
    if silence is not None:
        yield Flag("silent", 0, (), {"came": silence}, gauge=gauge.name)
    reading = state.last
    if reading is None:
        return
    unit = reading.shown or reading.unit
    if unit != gauge.unit:
        yield Flag("unit-differs", 0, (), {}, {"unit": unit, "due": gauge.unit}, gauge=gauge.name)
    elif _coarser(gauge, reading):
        figures: dict[str, float | None] = {
            "came": float(reading.digits),
            "resolution": gauge.resolution,
        }
        yield Flag("digits-fewer", 0, (), figures, {"unit": gauge.unit}, gauge=gauge.name)


def _coarser(gauge: Gauge, reading: Reading) -> bool:
    """Whether the step of what it shows is larger than the sheet's resolution."""
    return gauge.resolution > 0 and 10.0**-reading.digits * _ours(gauge) > gauge.resolution * 1.0001


def _ours(gauge: Gauge) -> float:
    """Millimetres or watts in the unit that the gauge shows; what is shown in ours is as it is."""
    return {"in": MM_PER_INCH, "kW": 1000.0}.get(gauge.unit, 1.0)
