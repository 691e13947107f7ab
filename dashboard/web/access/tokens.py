"""The tokens of a dashboard: given in a file, the environment or an option, else this user's own.

Another user of the same machine reaches the loopback address too, so that every dashboard asks for one. The
user's own is kept in a private file, so that a page still opens when its dashboard was started again.
"""

from __future__ import annotations

import secrets
from contextlib import suppress
from pathlib import Path
from typing import Final

from msgspec import Struct

from capture.host.private_files import others_may_read, read_private, runtime_folder, write_private

LEAST: Final = 12
"""Characters of a token that a person gives; ten guesses a minute are answered."""
UNGUESSABLE: Final = 22
"""Characters of a token that nobody guesses: 128 bits as RFC 4648 base64."""
NAME: Final = "page-token"


class Tokens(Struct, frozen=True):
    """What a browser must bring."""

    speak: str
    """To see and to change."""
    view: str | None = None
    """To see alone; None: nobody."""
    own: bool = False
    """The user's own: it was given by nobody, and opens the page on this machine alone."""


class BadToken(ValueError):
    """A token that cannot be used; the text says why, for a person."""


def tokens_of(token: str | None, viewer: str | None, file: Path | None, *, reachable: bool) -> Tokens:
    """The tokens that a dashboard asks for; *reachable*: from other machines.

    Raises:
        BadToken: One is due and missing, too short, or unusable.
    """
    if file is not None:
        if token is not None or viewer is not None:
            raise BadToken("--token-file: the tokens were given already; give them once")
        token, viewer = _in_file(file)
    if token is None or token == "":
        if reachable:
            due = f"such as {secrets.token_urlsafe(9)}, in --token-file FILE or TENTHS_TOKEN"
            raise BadToken(f"others can reach it, so a --token is due, {due}")
        if viewer:
            raise BadToken("--viewer-token: a --token is due beside it")
        return Tokens(own_token(), own=True)
    viewer = viewer or secrets.token_urlsafe(9)
    for name, given in (("--token", token), ("--viewer-token", viewer)):
        if len(given) < LEAST:
            raise BadToken(f"{name}: {len(given)} characters came, due at least {LEAST}")
        if not (given.isascii() and given.isprintable()) or set(given) & set(' ",;\\'):
            raise BadToken(f"{name}: due letters, digits and signs without blank, quote, comma and semicolon")
    if token == viewer:
        raise BadToken("--viewer-token: came the same as --token, due another")
    return Tokens(token, viewer)


def own_token() -> str:
    """This user's own token, from the private file; a new one where there is none to be used."""
    file = runtime_folder() / NAME
    with suppress(OSError, UnicodeError):
        if (
            not others_may_read(file)
            and len(kept := read_private(file).decode("ascii").strip()) >= UNGUESSABLE
        ):
            return kept
    made = secrets.token_urlsafe(32)
    with suppress(OSError):  # without the file the token lives as long as its dashboard
        file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        write_private(file, made.encode())
    return made


def _in_file(file: Path) -> tuple[str, str | None]:
    """The token in the first line, and the viewer's in the second where there is one."""
    try:
        if others_may_read(file):
            raise BadToken(f"--token-file {file}: other users may read it: chmod 600 {file}")
        lines = read_private(file).decode("ascii").split()
    except OSError as error:
        raise BadToken(f"--token-file {file}: {error.strerror or error}") from None
    except UnicodeError:
        raise BadToken(f"--token-file {file}: due a token in its first line") from None
    if not 1 <= len(lines) <= 2:
        raise BadToken(f"--token-file {file}: {len(lines)} words came, due a token, and perhaps a viewer's")
    return lines[0], lines[1] if len(lines) == 2 else None
