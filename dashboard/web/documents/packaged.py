"""Files of others that the screens are served with: the library that draws, and the fonts.

An address bears a digest of the file's content, so that a browser keeps it for good and never a stale one.
Where they are from, and under which licence: `dashboard/packaged/README.md`.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection
from importlib.resources import files
from typing import Final

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from capture.report.letters import LETTERS, letters

KINDS: Final = {"js": "text/javascript; charset=utf-8", "woff2": "font/woff2"}
FAMILY: Final = "tenths"
"""One family of three files: what the letters lack comes from the others."""
_DRAWS: Final = "plotly-basic.min.js"
_MORE: Final = {
    "symbols.woff2": "U+25B8, U+25BE, U+25D0, U+25F7, U+2715, U+275A",
    "math.woff2": "U+224B",
}
"""Fonts for single shapes, and the shapes that each has."""
_FOR_GOOD: Final = {"cache-control": "public, max-age=31536000, immutable"}
_CONTENTS: Final = {
    LETTERS: letters(),
    **{name: files("dashboard").joinpath("packaged", name).read_bytes() for name in (_DRAWS, *_MORE)},
}
_DRAWER: Final = """(() => {
  const src = "ADDRESS";
  const link = Object.assign(document.createElement("link"), { rel: "preload", as: "script", href: src });
  const script = Object.assign(document.createElement("script"), { src, async: true });
  window.Plotly = new Promise((done, failed) => {
    script.onload = () => done(window.Plotly);
    script.onerror = failed;
  });
  const due = () => {
    if (link.isConnected || PLAIN.includes(location.hash.slice(1))) return;
    document.head.append(link);
    if (!AFTER || document.documentElement.dataset.page) document.head.append(script);
    else document.addEventListener(AFTER, painted, { once: true });
  };
  const painted = () => requestAnimationFrame(() => setTimeout(() => document.head.append(script)));
  addEventListener("hashchange", due);
  due();
})();"""
"""Fetches the library that draws while the rest of the page is still being read, and not before a page is
opened that has a figure. It is run after the event AFTER, since it keeps the browser busy for a fifth of a
second in which the verdict would not show. Dash fetches one of its own, four times as large, where
``window.Plotly`` is not there when the first figure is built, and waits for what is there: so it waits for
this, and the library, once it has come, takes the promise's place."""


def lay_packaged(server: FastAPI) -> None:
    """Adds the route of the files to *server*."""
    server.add_route("/packaged/{digest}/{name}", _answer)


def head() -> str:
    """What the head of a document has of it: the letters are fetched before anything asks for them."""
    faces = [_face(LETTERS), *(_face(name, f"unicode-range: {shapes}; ") for name, shapes in _MORE.items())]
    letters = _address(LETTERS)
    return (
        f'<link rel="preload" href="{letters}" as="font" type="font/woff2" crossorigin>'
        f"<style>{''.join(faces)}</style>"
    )


def drawer(plain: Collection[str] = (), after: str = "") -> str:
    """The script that fetches the library that draws, and runs it after the document's event *after*.

    The pages *plain* have no figure.
    """
    script = _DRAWER.replace("PLAIN", json.dumps(list(plain)))
    return script.replace("AFTER", json.dumps(after)).replace("ADDRESS", _address(_DRAWS))


def _face(name: str, more: str = "") -> str:
    """One file of the family; each has all weights, else a browser looks for a shape in one file alone."""
    source = f'src: url("{_address(name)}") format("woff2"); font-display: swap'
    return f'@font-face {{ font-family: "{FAMILY}"; font-weight: 400 700; {more}{source}; }}'


def _address(name: str) -> str:
    return f"/packaged/{_digest(name)}/{name}"


def _digest(name: str) -> str:
    return hashlib.sha256(_CONTENTS[name]).hexdigest()[:12]


async def _answer(request: Request) -> Response:
    name = request.path_params["name"]
    if name not in _CONTENTS or request.path_params["digest"] != _digest(name):
        return PlainTextResponse("no such file\n", status_code=404)
    return Response(_CONTENTS[name], media_type=KINDS[name.rpartition(".")[2]], headers=_FOR_GOOD)
