"""Words of a step beside the measuring: ``checked centres ok``, ``clamp free``, ``runout 140 0.006 90``."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Final, Literal, get_args

from capture.events import AnyFact, Checked, Clamp, Picture, RunOut, Tried
from capture.metrology.units import MM_PER_INCH
from capture.sheet.job import Units
from capture.state.words.command_words import CommandRejected, number

Feel = Literal["loose", "free", "close", "tight", "binds"]
FEELS: Final[tuple[Feel, ...]] = get_args(Feel)
"""How a trial assembly feels, from no resistance to none that moves by hand."""
CHECKS: Final = (
    *("centres", "mandrel", "dog", "steady-rest", "wheel", "guard", "coolant-flow"),
    *("stress-relief", "bake", "base-cracks", "cracks", "burn", "washed", "waited"),
)
"""What can be checked: of the set-up, of the plating, of the ground chromium, and before measuring."""
RESULTS: Final[Mapping[str, Literal["ok", "not ok", "not due"]]] = {
    "ok": "ok",
    "yes": "ok",
    "no": "not ok",
    "none": "not due",
}
LONGEST: Final = 500
MOST_RUNOUT: Final = 1.0
"""mm; more is a part that is not on its centres (common practice, no source)."""
LARGEST_PICTURE: Final = 4 << 20
"""Bytes of a picture beside a recording."""
PICTURE_NAME: Final = re.compile(r"[0-9a-f]{16}\.jpg")

USAGE: Final = {
    "checked": f"checked WHAT ok|no|none [TEXT]: a step was looked at; WHAT is one of {', '.join(CHECKS)}",
    "clamp": "clamp TEXT: how the part or its lock is held from here on (free, clamped, locked …)",
    "tried": (
        f"tried DEPTH ANGLE {'|'.join(FEELS)} [T] [TEXT]: a trial assembly; DEPTH is the place on the "
        "shaft at the bore's datum end, T the temperature in °C, TEXT the oil"
    ),
    "runout": (
        "runout Z FULL [ANGLE]: the part runs out by so much, full indicator movement in one slow turn at Z; "
        "ANGLE is where it stands highest"
    ),
    "picture": "picture FILE SHA256 BYTES [TEXT]: a picture that lies beside the recording",
}


def checked(words: Sequence[str], _units: Units) -> Checked:
    """Of ``checked centres ok lapped clean``."""
    if len(words) < 2:
        raise CommandRejected(f"checked: came {len(words)} words after it, due {USAGE['checked']}")
    what, result = words[0].lower(), words[1].lower()
    if what not in CHECKS:
        raise CommandRejected(f"checked: came {words[0]!r}, due one of {', '.join(CHECKS)}")
    if result not in RESULTS:
        raise CommandRejected(f"checked: came {words[1]!r}, due ok, no or none (not due)")
    return Checked(what, RESULTS[result], _text(words[2:], "checked"))


def clamp(words: Sequence[str], _units: Units) -> Clamp:
    """Of ``clamp free``."""
    how = _text(words, "clamp")
    if not how:
        raise CommandRejected(f"clamp: came nothing after it, due {USAGE['clamp']}")
    return Clamp(how)


def tried(words: Sequence[str], units: Units) -> Tried:
    """Of ``tried 60 90 close 21.5 light spindle oil``."""
    if len(words) < 3:
        raise CommandRejected(f"tried: came {len(words)} words after it, due {USAGE['tried']}")
    depth = number(words[0], "depth") * (MM_PER_INCH if units == "in" else 1.0)
    angle = number(words[1], "angle")
    felt = next((feel for feel in FEELS if feel == words[2].lower()), None)
    if felt is None:
        raise CommandRejected(f"feel: came {words[2]!r}, due one of {', '.join(FEELS)}")
    warm, rest = None, list(words[3:])
    if rest and _is_number(rest[0]):
        warm = number(rest.pop(0), "temperature")
        if not -50.0 < warm < 150.0:
            raise CommandRejected(f"temperature: came {warm:g}, due one in °C between -50 and 150")
    return Tried(depth, angle, felt, warm, _text(rest, "tried"))


def runout(words: Sequence[str], units: Units) -> RunOut:
    """Of ``runout 140 0.006 90``."""
    if not 2 <= len(words) <= 3:
        raise CommandRejected(f"runout: came {len(words)} words after it, due {USAGE['runout']}")
    scale = MM_PER_INCH if units == "in" else 1.0
    z, full = number(words[0], "place") * scale, number(words[1], "run-out") * scale
    if not 0.0 <= full <= MOST_RUNOUT:
        raise CommandRejected(
            f"run-out: came {words[1]}, due the full movement of the indicator, 0 to "
            f"{MOST_RUNOUT / scale:.3g} {units}"
        )
    return RunOut(z, full, number(words[2], "angle") % 360.0 if len(words) > 2 else None)


def picture(words: Sequence[str], _units: Units) -> Picture:
    """Of the file's name, its hash and its size, as who stored it says them."""
    if len(words) < 3:
        raise CommandRejected(f"picture: came {len(words)} words after it, due {USAGE['picture']}")
    name, sha256, size = words[0], words[1].lower(), words[2]
    if not PICTURE_NAME.fullmatch(name) or not re.fullmatch("[0-9a-f]{64}", sha256):
        raise CommandRejected(
            "picture: due a name of 16 hexadecimal digits with .jpg, and 64 digits of SHA-256"
        )
    if not sha256.startswith(name[:16]):
        raise CommandRejected(f"picture: the name {name!r} is not the beginning of its hash")
    if not size.isascii() or not size.isdigit() or not 0 < int(size[:9]) <= LARGEST_PICTURE or len(size) > 9:
        raise CommandRejected(f"picture: came {size[:20]!r} bytes, due at most {LARGEST_PICTURE}")
    return Picture(name, sha256, int(size), _text(words[3:], "picture"))


WORDS: Final[Mapping[str, Callable[[Sequence[str], Units], AnyFact]]] = {
    "checked": checked,
    "clamp": clamp,
    "tried": tried,
    "runout": runout,
    "picture": picture,
}
"""By its first word, what reads the others; CommandRejected says what came and what was due."""


def _text(words: Sequence[str], verb: str) -> str:
    text = " ".join(words).strip()
    if len(text) > LONGEST:
        raise CommandRejected(f"{verb}: came {len(text)} characters, due at most {LONGEST}")
    return text


def _is_number(word: str) -> bool:
    try:
        number(word, "")
    except CommandRejected:
        return False
    return True
