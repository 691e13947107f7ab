"""Topics, and the payloads of those that carry no recorded line: ``shop/machine/recording/kind``."""

from __future__ import annotations

import re
from typing import Final
from urllib.parse import quote, unquote

import msgspec
from msgspec import Struct

from capture.recording.codec import first_chain

LINES: Final = "lines"
"""Kind of a topic that carries several lines of a recording, one after another: what was asked for again."""
EXTENT: Final = "extent"
"""How far a recording reaches."""
RESEND: Final = "resend"
"""What an archive asks for again."""
STORED: Final = "stored"
"""How far an archive has it."""
PICTURE_FILE: Final = "picture-file"
"""The file of a picture that a line of the recording names by its hash."""
STATUS: Final = "status"
"""Whether a publisher is there; its topic has a machine and no recording."""
_UNFIT: Final = re.compile(r"[+#/\x00-\x1f]")
WEEK: Final = 7 * 24 * 3600
"""Seconds that the broker retains an extent that nobody renews."""


class Extent(Struct, frozen=True):
    """How far a recording reaches, for whoever lacks its end."""

    next: int
    """The number after the last line's; 0 where there is a header alone."""
    chain: str
    """The chain after the last line."""
    wall: int
    """Nanoseconds since 1970 at the last event."""


class Resend(Struct, frozen=True):
    """Lines that are asked for again, from number *first* (-1: the header) to before *end*."""

    first: int
    end: int


class Stored(Struct, frozen=True):
    """An archive has every line before number *next*."""

    next: int
    chain: str
    lacking: int = 0
    """Pictures that those lines name and whose files it does not have."""


class Status(Struct, frozen=True):
    """Whether a publisher is there."""

    online: bool
    program: str


class Topic(Struct, frozen=True):
    """Where a message belongs."""

    machine: str
    recording: str
    kind: str


def recording_name(stem: str, header: bytes) -> str:
    """The name of a recording in a shop: that of its file, and the chain of its header, which no other has.

    >>> recording_name("sleeve/#1", b"{}")
    'sleeve%2F%231~44136fa355b3'
    """
    return f"{quote(stem, safe=' ()[],;=@!$&')[:160]}~{first_chain(header)}"


def stem_of(recording: str) -> str:
    """The name of the file that *recording* was published from, without its ending.

    >>> stem_of("sleeve%2F%231~44136fa355b3")
    'sleeve/#1'
    """
    return unquote(recording.rpartition("~")[0])


def belongs(recording: str, header: bytes) -> bool:
    """Whether *header* is that of the recording so named: a forged one is not."""
    return recording.rpartition("~")[2] == first_chain(header)


def topic_of(shop: str, machine: str, recording: str, kind: str) -> str:
    """The topic as text; a kind that came from a newer program loses what a topic cannot hold."""
    return f"{shop}/{machine}/{recording}/{_UNFIT.sub('_', kind)[:64] or '_'}"


def split(topic: str, shop: str) -> Topic | None:
    """The parts of *topic*; None where it is no topic of a recording in this shop."""
    parts = topic.split("/")
    if len(parts) != 4 or parts[0] != shop or "~" not in parts[2]:
        return None
    return Topic(*parts[1:])


def encoded(message: Extent | Resend | Stored | Status) -> bytes:
    """A message as JSON."""
    return msgspec.json.encode(message)
