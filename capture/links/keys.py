"""What keys type: from key events to text."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final, Protocol

EV_SYN: Final = 0
EV_KEY: Final = 1
SYN_DROPPED: Final = 3
"""Numbers of the Linux kernel's interface (`linux/input-event-codes.h`)."""

US: Mapping[str, tuple[str, str]] = (
    {f"KEY_{key}": (key, above) for key, above in zip("1234567890", "!@#$%^&*()", strict=True)}
    | {f"KEY_{key}": (key.lower(), key) for key in "ABCDEFGHIJKLMNOPQRSTUVWXYZ"}
    | {f"KEY_KP{key}": (key, key) for key in "0123456789"}
    | {
        "KEY_MINUS": ("-", "_"),
        "KEY_EQUAL": ("=", "+"),
        "KEY_COMMA": (",", "<"),
        "KEY_DOT": (".", ">"),
        "KEY_SLASH": ("/", "?"),
        "KEY_SEMICOLON": (";", ":"),
        "KEY_APOSTROPHE": ("'", '"'),
        "KEY_GRAVE": ("`", "~"),
        "KEY_BACKSLASH": ("\\", "|"),
        "KEY_LEFTBRACE": ("[", "{"),
        "KEY_RIGHTBRACE": ("]", "}"),
        "KEY_SPACE": (" ", " "),
        "KEY_TAB": ("\t", "\t"),
        "KEY_ENTER": ("\r", "\r"),
        "KEY_KPMINUS": ("-", "-"),
        "KEY_KPPLUS": ("+", "+"),
        "KEY_KPDOT": (".", "."),
        "KEY_KPCOMMA": (",", ","),
        "KEY_KPSLASH": ("/", "/"),
        "KEY_KPASTERISK": ("*", "*"),
        "KEY_KPEQUAL": ("=", "="),
        "KEY_KPENTER": ("\r", "\r"),
    }
)
"""What the keys of a US keyboard type, plain and with Shift: the layout that such gauges assume."""

_SHIFTS = frozenset({"KEY_LEFTSHIFT", "KEY_RIGHTSHIFT"})
_SILENT = frozenset(
    {
        *("KEY_LEFTCTRL", "KEY_RIGHTCTRL", "KEY_LEFTALT", "KEY_RIGHTALT", "KEY_LEFTMETA", "KEY_RIGHTMETA"),
        *("KEY_CAPSLOCK", "KEY_NUMLOCK", "KEY_SCROLLLOCK"),
    }
)
_UNREADABLE: Final = "?"
"""Typed where a key has no text or keys were missed, so that no number comes of the line."""


class KeyEvent(Protocol):
    """One thing that happened at an input device: what we need of `evdev.InputEvent`."""

    type: int
    code: int
    value: int


class Typist:
    """Keys pressed one after another, with Shift held or not."""

    def __init__(self, codes: Mapping[str, int], keys: Mapping[str, str]) -> None:
        """*codes* are the kernel's numbers by name; *keys* says what keys stand for beside `US`.

        Raises KeyError for a name that the kernel has not.
        """
        self._texts = {codes[name]: texts for name, texts in US.items()}
        self._texts |= {codes[name]: (text, text) for name, text in keys.items()}
        self._shifts = {codes[name] for name in _SHIFTS}
        self._silent = {codes[name] for name in _SILENT} - set(self._texts)
        self._held: set[int] = set()

    @property
    def codes(self) -> set[int]:
        """The keys that type something."""
        return set(self._texts)

    def text(self, events: Iterable[KeyEvent]) -> str:
        """What *events* type; a key held down types once."""
        return "".join(map(self._one, events))

    def _one(self, event: KeyEvent) -> str:
        if event.type == EV_SYN and event.code == SYN_DROPPED:
            self._held.clear()
            return _UNREADABLE
        if event.type != EV_KEY:
            return ""
        if event.code in self._shifts and event.code not in self._texts:
            (self._held.add if event.value else self._held.discard)(event.code)
            return ""
        if event.value != 1 or event.code in self._silent:
            return ""
        plain, shifted = self._texts.get(event.code, (_UNREADABLE, _UNREADABLE))
        return shifted if self._held else plain
