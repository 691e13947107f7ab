"""The letters that papers bring with them, so that they look the same on every computer and in every PDF.

The screens use the same file; where it is from, and its licence: `dashboard/packaged/README.md`.
"""

from __future__ import annotations

from base64 import b64encode
from functools import cache
from importlib.resources import files
from typing import Final

LETTERS: Final = "letters.woff2"


def letters() -> bytes:
    """The font's file: letters, figures of one width, arrows and marks, from 400 to 700 in weight."""
    return files("capture.report").joinpath("fonts", LETTERS).read_bytes()


@cache
def face() -> str:
    """The rule of a style sheet that has the font in it."""
    data = b64encode(letters()).decode("ascii")
    source = f'url("data:font/woff2;base64,{data}") format("woff2")'
    return f'@font-face {{ font-family: "tenths"; font-weight: 400 700; src: {source}; }}'
