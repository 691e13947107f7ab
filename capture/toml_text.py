"""TOML that somebody else may have written, read within bounds. Pure; imports nothing of this program."""

from __future__ import annotations

import re
import tomllib
from typing import Any, Final

LONGEST: Final = 1 << 20
"""Characters in a file; a sheet with ten thousand stations has a tenth of it."""
MOST_PARTS: Final = 32
"""Parts of a dotted key. The parser keeps every beginning of one: 30 000 parts, which are 60 kB, took it
a minute and 3.5 GiB."""
_PART: Final = r"""(?:[A-Za-z0-9_-]++|"[^"\n]*+"|'[^'\n]*+')"""
_TOO_DEEP: Final = re.compile(rf"(?<![A-Za-z0-9_-]){_PART}(?:[ \t]*+\.[ \t]*+{_PART}){{{MOST_PARTS}}}")


class BadToml(ValueError):
    """No TOML, or more of it than any file here has: what came."""


def parse_toml(text: str, longest: int = LONGEST) -> dict[str, Any]:
    """The tables of a TOML file.

    Raises:
        BadToml: It is none, is too long, or nests too deep.
    """
    if len(text) > longest:
        raise BadToml(f"{len(text)} characters came, at most {longest} were due")
    if found := _TOO_DEEP.search(text):
        line = text.count("\n", 0, found.start()) + 1
        raise BadToml(f"a key of more than {MOST_PARTS} parts came (at line {line})")
    try:
        return tomllib.loads(text)
    except ValueError as error:  # also a number of more digits than Python takes
        raise BadToml(str(error)) from None
    except RecursionError:
        raise BadToml("a nest of lists or tables came that is too deep") from None
