"""What is said when another program teaches: wishes in, pictures out, each one line of JSON.

The lines are described in `capture/commands/JSON.md`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final, Literal, TypeAlias

import msgspec
from msgspec import Struct

from capture.teaching.line_settings import Parity

ASKED: Final = 64
"""Bytes that may be sent to make a gauge answer."""


class Line(Struct, frozen=True, forbid_unknown_fields=True, tag_field="do", tag="line"):
    """Listen with this setting."""

    baud: int
    bytesize: Literal[5, 6, 7, 8] = 8
    parity: Parity = "N"
    stopbits: float = 1


class Find(Struct, frozen=True, forbid_unknown_fields=True, tag_field="do", tag="find"):
    """Try one setting after another."""


class Take(Struct, frozen=True, forbid_unknown_fields=True, tag_field="do", tag="take"):
    """What the display shows, as it was typed."""

    shown: str
    unit: str


class Cannot(Struct, frozen=True, forbid_unknown_fields=True, tag_field="do", tag="cannot"):
    """The gauge can't show what is asked for."""


class Back(Struct, frozen=True, forbid_unknown_fields=True, tag_field="do", tag="back"):
    """Forget the last reading."""


class Agree(Struct, frozen=True, forbid_unknown_fields=True, tag_field="do", tag="agree"):
    """The display shows what was read."""


class Send(Struct, frozen=True, forbid_unknown_fields=True, tag_field="do", tag="send"):
    """Send this to the gauge, once a second from now on; empty: no more."""

    text: str


class Here(Struct, frozen=True, forbid_unknown_fields=True, tag_field="do", tag="here"):
    """Nothing: who teaches is still there."""


Wish: TypeAlias = Line | Find | Take | Cannot | Back | Agree | Send | Here


class Listening(Struct, frozen=True, tag_field="kind", tag="line"):
    """With which setting the line is listened to."""

    baud: int
    bytesize: int
    parity: str
    stopbits: float
    words: str
    number: int
    of: int
    found: bool
    sure: bool


class Came(Struct, frozen=True, tag_field="kind", tag="came"):
    """What came from the gauge."""

    bytes: int
    since: int
    """Bytes since the last reading was taken."""
    lines: tuple[str, ...]
    """The last of it, with what can't be seen written out."""


class Step(Struct, frozen=True, tag_field="kind", tag="step"):
    """What is asked for now, what was learnt, and how sure that is."""

    asks: str
    plan: tuple[tuple[str, str], ...]
    """Each question of the plan with its state: done, now, left or cannot."""
    readings: tuple[tuple[str, str], ...]
    """Number and unit of each that was taken."""
    understood: tuple[str, ...]
    open: tuple[str, ...]
    sure: Literal["nothing", "reads", "all"]
    """Nothing is certain; it reads what was taught and questions are open; or nothing is open."""
    agreed: int
    """How often a person has said that the display shows what was read."""
    ask: str
    """What is sent once a second."""
    digit: str
    """The last place of the display, in the unit of the first reading; empty before it."""
    file: str | None
    """The text of the dialect file, once a format is certain."""


class Reads(Struct, frozen=True, tag_field="kind", tag="reads"):
    """What comes now, through what was learnt."""

    shown: str = ""
    unit: str = ""
    refused: str = ""


class Answered(Struct, frozen=True, tag_field="kind", tag="answered"):
    """What became of a wish."""

    number: int
    """Counts wishes from 1."""
    do: str
    field: str = ""
    """Where the fault is, if one is somewhere."""
    why: str = ""
    """What is wrong, and what to do; empty when all is well."""
    said: str = ""


class Trouble(Struct, frozen=True, tag_field="kind", tag="trouble"):
    """Why nothing can be received; empty when the link is open."""

    why: str


class Ended(Struct, frozen=True, tag_field="kind", tag="ended"):
    """Why the lesson ended."""

    why: str


Picture: TypeAlias = Listening | Came | Step | Reads | Answered | Trouble | Ended


class Unfit(ValueError):
    """A wish that can't be granted, and the field that is to be filled in otherwise."""

    def __init__(self, field: str, why: str) -> None:
        super().__init__(why)
        self.field = field


def readable(data: bytes) -> tuple[str, ...]:
    r"""Bytes as lines that a person can read; what can't be seen is written out.

    >>> readable(b"+1.5 mm\r\n\x02\xb1")
    ('+1.5 mm\\r\\n', '\\x02\\xb1')
    """
    named: Mapping[int, str] = {0x0D: "\\r", 0x0A: "\\n", 0x5C: "\\\\"}
    pieces = re.findall(rb"[^\r\n]*[\r\n]+|[^\r\n]+", data)[-6:]
    return tuple(
        "".join(named.get(b) or (chr(b) if 0x20 <= b < 0x7F else f"\\x{b:02x}") for b in piece[-80:])
        for piece in pieces
    )


def sent_bytes(text: str) -> bytes:
    r"""What a person means to be sent: printable ASCII, with \r, \n, \\ and \xNN for the rest.

    >>> sent_bytes(r"?\r")
    b'?\r'

    Raises:
        Unfit: It is no such text, or more than 64 bytes.
    """
    if not re.fullmatch(r"(?:[ -\[\]-~]|\\[rn\\]|\\x[0-9A-Fa-f]{2})*", text):
        raise Unfit("ask", rf"came {text!r}, due printable characters with \r, \n, \\ or \xNN for the rest")
    data = text.encode("ascii").decode("unicode_escape").encode("latin-1")
    if len(data) > ASKED:
        raise Unfit("ask", f"came {len(data)} bytes, due at most {ASKED}")
    return data


def wish_of(line: str) -> Wish:
    """The wish that a line says; msgspec.MsgspecError tells what is wrong with it."""
    wish: Wish = msgspec.json.decode(line, type=Wish)
    return wish
