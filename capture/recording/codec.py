"""Lines of a recording: the header and the events as text, and back.

Each event line that this program writes ends in a short chain hash over all that stands
before it, so that a later edit shows. It is no signature: who can edit can also compute it
again; a report that names the last chain of a recording is what such an edit cannot change.
Lines without one, written by other programs, are as good to read.
"""

from __future__ import annotations

import re
from hashlib import sha256
from typing import Any, Final, get_args

import msgspec
from msgspec import Struct

from capture import __version__
from capture.events import AnyFact, Event, Instant, Other
from capture.host.clock import iso

FORMAT: Final = 1
LONGEST: Final = 1 << 20
"""Bytes in the longest line that is read or written."""

_KINDS: Final = frozenset(str(kind.__struct_config__.tag) for kind in get_args(AnyFact))
_CHAIN: Final = re.compile(rb',"chain":"([0-9a-f]{12})"\}$')
_FRESH: Final = sha256()
"""A copy costs half of a new one, which looks for an implementation each time."""
_encode: Final = msgspec.json.Encoder().encode
_decoder: Final = msgspec.json.Decoder(Event)


class Header(Struct, frozen=True):
    """The first line: what a reader must know before the first event."""

    format: int
    program: str
    """Name and version of the program that wrote it."""
    began: str
    """Wall clock at which the recording began, ISO 8601 in UTC."""
    job: dict[str, Any]
    """The whole job sheet."""

    @classmethod
    def new(cls, job: dict[str, Any], began: int) -> Header:
        """The header of a recording that begins now, at *began* wall nanoseconds."""
        return cls(FORMAT, f"tenths {__version__}", iso(began), job)


class _Loose(Struct, frozen=True):
    """An event whose kind of fact may be unknown."""

    seq: int
    at: Instant
    source: str
    fact: dict[str, Any]


class _Format(Struct, frozen=True):
    format: int


class BadLine(ValueError):
    """A line that cannot be read: what came, and what was due."""


def show(line: bytes) -> str:
    """The first bytes of *line*, for an error's sentence."""
    text = line[:48].decode("utf-8", "backslashreplace")
    return repr(text) + (" …" if len(line) > 48 else "")


def encode_header(header: Header) -> bytes:
    """The header as its line, without the line end."""
    return _encode(header)


def decode_header(line: bytes) -> Header:
    """The header that *line* holds; raises `BadLine`."""
    due = 'a recording begins with {"format":1,…}'
    try:
        number = msgspec.json.decode(line, type=_Format).format
    except (msgspec.MsgspecError, UnicodeError, RecursionError):
        raise BadLine(f"not a recording: {show(line)} came, but {due}") from None
    if number > FORMAT:
        raise BadLine(
            f"format {number} came, but this program reads up to format {FORMAT}: "
            "it needs a newer version of the program"
        )
    if number < 1:
        raise BadLine(f"format {number} came, but {due}")
    try:
        return msgspec.json.decode(line, type=Header)
    except (msgspec.MsgspecError, UnicodeError, RecursionError) as error:
        raise BadLine(f"the header cannot be read: {error}") from None


def encode_event(event: Event) -> bytes:
    """The event as its line, without chain and line end; raises ValueError if it is too long."""
    fact = event.fact
    if isinstance(fact, Other):
        if fact.name in _KINDS:
            raise ValueError(f"{fact.name!r} is a kind of fact that this version knows, not another")
        body = _encode(_Loose(event.seq, event.at, event.source, {"kind": fact.name, **fact.fields}))
    else:
        body = _encode(event)
    if len(body) > LONGEST - 64:
        raise ValueError(f"event {event.seq} of {event.source} has {len(body)} bytes, {LONGEST} is the most")
    return body


def decode_event(line: bytes) -> Event:
    """The event that *line* holds, whatever its kind; raises `BadLine`."""
    try:
        return _decoder.decode(line)
    except msgspec.ValidationError as error:
        why = str(error)
    except (msgspec.MsgspecError, UnicodeError, RecursionError) as error:
        raise BadLine(f"{show(line)} came, but an event was due: {error}") from None
    try:
        loose = msgspec.json.decode(line, type=_Loose)
    except (msgspec.MsgspecError, UnicodeError, RecursionError):
        raise BadLine(f"{show(line)} came, but an event was due: {why}") from None
    kind = loose.fact.pop("kind", None)
    if not isinstance(kind, str) or kind in _KINDS:
        raise BadLine(f"event {loose.seq} cannot be read: {why}")
    return Event(loose.seq, loose.at, loose.source, Other(kind, loose.fact))


def decode_events(lines: bytes, count: int) -> list[Event] | None:
    """The events of *count* whole lines at once, or None where they need a closer look."""
    try:
        events = _decoder.decode_lines(lines)
    except (msgspec.MsgspecError, UnicodeError, RecursionError):
        return None
    return events if len(events) == count else None


def first_chain(header: bytes) -> str:
    """Where the chain starts: the hash of the header's line."""
    return sha256(header).hexdigest()[:12]


def next_chain(chain: str, body: bytes) -> str:
    """The chain after one more event: over the chain before it and its line without chain."""
    fresh = _FRESH.copy()
    fresh.update(chain.encode() + body)
    return fresh.hexdigest()[:12]


def join_chain(body: bytes, chain: str) -> bytes:
    """The whole line, its line end included."""
    return b'%b,"chain":"%b"}\n' % (body[:-1], chain.encode())


def split_chain(line: bytes) -> tuple[bytes, str | None]:
    """A line without its chain, and the chain where it carries one."""
    found = _CHAIN.search(line, max(0, len(line) - 24))
    if found is None:
        return line, None
    return line[: found.start()] + b"}", found.group(1).decode()
