"""How each instrument is: link, last word, rate, garbled lines, battery, unit."""

from __future__ import annotations

from msgspec import Struct
from msgspec.structs import replace

from capture.events import Battery, Down, Event, Garbled, Instant, Reading, Up
from capture.sheet.job import Gauge

STOPPED = "the capture was stopped"
"""Why a link is down that a person closed with the capture."""

GARBLED_HINT = 20
"""Garbled pieces in a row after which the line's settings are to blame (common practice, no source)."""

NEVER_SPOKE = 60.0
"""Seconds (common practice, no source)."""

SMOOTHING = 0.2
"""Weight of the newest interval in the smoothed rate: about the last ten readings."""


class Health(Struct, frozen=True):
    """One instrument, as far as its own words tell."""

    up: bool | None = None
    """Whether its link is open; None before the first word of it."""
    detail: str = ""
    """What the link opened, or why it is down."""
    since: Instant | None = None
    """When the link last went up or down."""
    downs: int = 0
    last: Reading | None = None
    last_at: Instant | None = None
    last_seq: int | None = None
    readings: int = 0
    interval: float | None = None
    """Smoothed seconds between readings."""
    garbled: int = 0
    in_a_row: int = 0
    """Garbled pieces since the last reading."""
    last_garbled: str = ""
    battery: float | None = None

    @property
    def rate(self) -> float | None:
        """Readings a second, smoothed."""
        return 1.0 / self.interval if self.interval else None

    def age(self, now: Instant) -> float | None:
        """Seconds since the last reading."""
        return None if self.last_at is None else (now.mono - self.last_at.mono) / 1e9

    def silent_for(self, now: Instant, gauge: Gauge) -> float | None:
        """Seconds that a connected gauge has said nothing, where that is longer than it may; else None.

        It may for as long as the sheet says. Without that a gauge on the air that connected and
        never spoke is too silent after `NEVER_SPOKE`: a cable shows by its plug that it is there.
        """
        most = gauge.silence
        if most is None and "ble" in gauge.link and not self.readings:
            most = NEVER_SPOKE
        times = [at.mono for at in (self.last_at, self.since) if at is not None]
        if not self.up or most is None or not times:
            return None
        silence = (now.mono - max(times)) / 1e9
        return silence if silence > most else None


def step(state: Health, event: Event) -> Health:
    """The instrument's health after an event of its own."""
    match event.fact:
        case Reading() as reading:
            return replace(
                state,
                up=True,
                last=reading,
                last_at=event.at,
                last_seq=event.seq,
                readings=state.readings + 1,
                interval=_smoothed(state, event.at),
                in_a_row=0,
            )
        case Garbled(why=why):
            return replace(state, garbled=state.garbled + 1, in_a_row=state.in_a_row + 1, last_garbled=why)
        case Up(detail=detail):
            return replace(state, up=True, detail=detail, since=event.at, interval=None)
        case Down(why=why):
            lost = 1 if state.up else 0
            return replace(state, up=False, detail=why, since=event.at, downs=state.downs + lost)
        case Battery(level=level):
            return replace(state, battery=level)
        case _:
            return state


def repeats(state: Health, event: Event, within: float) -> bool:
    """Whether *event* is the reading before it sent once more: the same bytes, *within* so many seconds.

    *state* is the gauge's health before the event.
    """
    age = state.age(event.at)
    if age is None or age > within or state.last is None or not isinstance(event.fact, Reading):
        return False
    return event.fact.raw == state.last.raw


def _smoothed(state: Health, at: Instant) -> float | None:
    if state.last_at is None:
        return None
    interval = (at.mono - state.last_at.mono) / 1e9
    if state.interval is None:
        return interval or None
    return state.interval + SMOOTHING * (interval - state.interval)
