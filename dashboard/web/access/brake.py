"""A brake on guessing tokens: one address has ten guesses in a minute."""

from __future__ import annotations

import time
from collections.abc import Callable
from hashlib import sha256
from typing import Final

MOST: Final = 10
"""Different wrong tokens of one address within `WITHIN`; an old page that repeats one is no guesser."""
WITHIN: Final = 60.0
"""Seconds."""
_ADDRESSES: Final = 1000
"""Addresses that are remembered; the oldest is forgotten first."""


class TokenBrake:
    """Remembers who brought wrong tokens, and no token itself."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._wrong: dict[str, dict[bytes, float]] = {}

    def took(self, address: str, token: str) -> None:
        """Takes in a wrong *token*."""
        tokens = self._wrong.pop(address, {})
        tokens[sha256(token.encode("utf-8", "replace")).digest()] = self._clock()
        while len(tokens) > MOST:
            del tokens[next(iter(tokens))]
        self._wrong[address] = tokens
        while len(self._wrong) > _ADDRESSES:
            del self._wrong[next(iter(self._wrong))]

    def holds(self, address: str) -> bool:
        """Whether *address* has guessed too often to be listened to now."""
        since = self._clock() - WITHIN
        return sum(at > since for at in self._wrong.get(address, {}).values()) >= MOST
