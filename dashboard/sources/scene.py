"""What there is to show: a state, where it is from, and how old it is."""

from __future__ import annotations

from typing import Literal, TypeAlias

from msgspec import Struct

from capture.state.session import State

Kind: TypeAlias = Literal["waiting", "loading", "live", "old", "replay"]


class Mark(Struct, frozen=True):
    """A place in a recording where something happened."""

    share: float
    """Of the recording's time, 0 to 1."""
    kind: str
    text: str


class Transport(Struct, frozen=True):
    """Where a replay stands."""

    playing: bool
    speed: float
    position: float
    """Seconds since the recording began."""
    length: float
    redecided: bool
    marks: tuple[Mark, ...] = ()


class Scene(Struct, frozen=True):
    """One picture; views are functions of it and of the units."""

    kind: Kind
    name: str = ""
    """The recording's file name."""
    state: State | None = None
    age: float | None = None
    """Seconds since the newest event, where it is shown live."""
    loaded: float | None = None
    """Share of the recording that has been read, where its length is known."""
    newer: str = ""
    """File name of a newer recording in the same folder."""
    trouble: str = ""
    """Why no more of the recording can be read."""
    closed: str = ""
    """Why nothing can be said; empty when a capture listens."""
    settings: str = ""
    """Settings that were changed on this screen."""
    transport: Transport | None = None
