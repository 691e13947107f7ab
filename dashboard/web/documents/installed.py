"""What a tablet needs to keep the page as a program: manifest, icon, and a notice where nothing answers.

The worker keeps that notice alone. Of a page it keeps nothing: a figure of yesterday must not look like one
of now, and the page bears what lets it speak.
"""

from __future__ import annotations

import functools
import hashlib
import html
import io
import json
from typing import Final

from fastapi import FastAPI
from PIL import Image, ImageDraw
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from dashboard.text.screen import word
from dashboard.views.elements.theme import GREEN, PAPER, SKY, WHITE

SIZES: Final = (180, 192, 512)
"""Pixels of the icon: what tablets ask for (W3C Web Application Manifest; 180 is common practice)."""
_NIGHT: Final = PAPER["dark"]["paper"]
_STYLE: Final = (
    f"body{{margin:0;min-height:100vh;display:grid;place-content:center;gap:1rem;padding:1rem;"
    f"box-sizing:border-box;background:{_NIGHT};color:{WHITE};font:1.2rem/1.4 system-ui,sans-serif}}"
    "main{max-width:34rem}h1{font-size:1.8rem;line-height:1.15;margin:0 0 1rem}"
    "button,input{font:inherit;min-height:3rem;padding:0 1rem;border-radius:.5rem;border:2px solid #fff}"
    "button{font-weight:700}input{width:100%;box-sizing:border-box;margin:.3rem 0 1rem}"
)
_AGAIN: Final = """
const ask = () => fetch("/health", { cache: "no-store" }).then(() => location.reload(), () => {});
document.querySelector("button").addEventListener("click", ask);
setInterval(ask, 2000);
"""
_WORKER: Final = """
const KEPT = "tenths-offline-VERSION", NOTICE = "/offline.html";
addEventListener("install", (event) => {
  event.waitUntil(caches.open(KEPT).then((kept) => kept.add(NOTICE)).then(() => skipWaiting()));
});
addEventListener("activate", (event) => {
  const tidied = async () => {
    for (const name of await caches.keys()) if (name !== KEPT) await caches.delete(name);
    await clients.claim();
  };
  event.waitUntil(tidied());
});
addEventListener("fetch", (event) => {
  if (event.request.mode !== "navigate") return;
  event.respondWith(fetch(event.request).catch(async () => (await caches.match(NOTICE)) || Response.error()));
});
"""
_REGISTERED: Final = """
if (window.isSecureContext && navigator.serviceWorker && !HERE.includes(location.hostname))
  navigator.serviceWorker.register("/service-worker.js").catch(() => {});
"""
_HERE: Final = ("localhost", "127.0.0.1", "[::1]")
"""Names of this machine, where no worker is laid: another program may have the port tomorrow."""


def lay_installed(server: FastAPI) -> None:
    """Adds the routes to *server*."""
    server.add_route("/manifest.webmanifest", _manifest)
    server.add_route("/icon-{size:int}.png", _icon)
    server.add_route("/service-worker.js", _worker)
    server.add_route("/offline.html", _offline)


def installed_head() -> str:
    """What the head of the document has of it; the manifest is asked for with the cookie."""
    return (
        '<link rel="manifest" href="/manifest.webmanifest" crossorigin="use-credentials">'
        '<link rel="icon" type="image/png" href="/icon-192.png">'
        '<link rel="apple-touch-icon" href="/icon-180.png">'
        f'<meta name="theme-color" content="{_NIGHT}">'
        f"<script>{_REGISTERED.replace('HERE', json.dumps(_HERE))}</script>"
    )


def refusal(why: str) -> str:
    """The page for who has no token: a program without an address bar is let in by it as well."""
    inside = (
        f'<p>{html.escape(why)}</p><form action="/"><label>{word("offline.token")}'
        '<input name="token" type="password" autocomplete="off" required></label>'
        f"<button>{word('offline.open')}</button></form><p>{word('offline.link')}</p>"
    )
    return _page(word("offline.refused"), inside)


def _page(title: str, inside: str) -> str:
    return (
        '<!DOCTYPE html><html lang="en"><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{title}</title><style>{_STYLE}</style><main><h1>{title}</h1>{inside}</main></html>\n"
    )


def _notice() -> str:
    inside = (
        f"<p>{word('offline.why')}</p><p>{word('offline.do')}</p>"
        f"<button>{word('offline.again')}</button><script>{_AGAIN}</script>"
    )
    return _page(word("offline.title"), inside)


async def _offline(_request: Request) -> Response:
    return Response(_notice(), media_type="text/html; charset=utf-8")


async def _manifest(_request: Request) -> Response:
    icons = [
        {"src": f"/icon-{size}.png", "sizes": f"{size}x{size}", "type": "image/png", "purpose": purpose}
        for size in SIZES[1:]
        for purpose in ("any", "maskable")
    ]
    about = {
        "id": "/",
        "name": word("offline.name"),
        "short_name": "tenths",
        "start_url": "/",
        "scope": "/",
        "display": "standalone",
        "background_color": _NIGHT,
        "theme_color": _NIGHT,
        "icons": icons,
    }
    return Response(json.dumps(about), media_type="application/manifest+json")


async def _worker(_request: Request) -> Response:
    version = hashlib.sha256(_notice().encode()).hexdigest()[:12]
    return Response(_WORKER.replace("VERSION", version), media_type="text/javascript; charset=utf-8")


async def _icon(request: Request) -> Response:
    size = request.path_params["size"]
    if size not in SIZES:
        return PlainTextResponse("no such icon\n", status_code=404)
    return Response(_drawn(size), media_type="image/png", headers={"cache-control": "max-age=86400"})


@functools.cache
def _drawn(size: int) -> bytes:
    """The way to size: the band, and the mark inside it; all within the middle four fifths, as masks ask."""
    large = 4 * size  # drawn larger and made smaller: edges without steps
    image = Image.new("RGB", (large, large), _NIGHT)
    draw = ImageDraw.Draw(image)
    part = large / 100
    draw.line([(16 * part, 62 * part), (84 * part, 62 * part)], fill=WHITE, width=round(3 * part))
    draw.rectangle([(38 * part, 54 * part), (76 * part, 70 * part)], fill=GREEN)
    draw.polygon([(44 * part, 24 * part), (70 * part, 24 * part), (57 * part, 50 * part)], fill=SKY)
    kept = io.BytesIO()
    image.resize((size, size), Image.Resampling.LANCZOS).save(kept, "PNG", optimize=True)
    return kept.getvalue()
