"""What a tablet asks for to keep the page as a program."""

from __future__ import annotations

import io
import re

import msgspec
import pytest
from fastapi import FastAPI
from PIL import Image

from dashboard.web.access.guard import Guard
from dashboard.web.access.tokens import Tokens
from dashboard.web.documents.installed import installed_head, lay_installed

KNOWN = [("host", "127.0.0.1"), ("cookie", "tenths-80=right-to-speak")]
HTML = ("accept", "text/html,application/xhtml+xml")


@pytest.fixture
def get(asked):
    """Asks for a file, by default as a browser that is known."""
    server = FastAPI()
    lay_installed(server)
    app = Guard(server, host="127.0.0.1", tokens=Tokens("right-to-speak"), port=80)
    return lambda path, headers=KNOWN: asked(app, path, headers=headers)


def test_the_manifest_has_what_a_browser_asks_of_a_program_and_its_icons_are_as_large_as_it_says(get):
    """Name, start, display, icons of 192 and 512 pixels (W3C Web Application Manifest; Chromium asks)."""
    answer = get("/manifest.webmanifest")
    about = msgspec.json.decode(answer.body)

    assert answer.headers["content-type"] == "application/manifest+json"
    assert {"name", "short_name", "start_url", "display", "icons"} <= about.keys()
    assert {icon["sizes"] for icon in about["icons"]} == {"192x192", "512x512"}
    for icon in about["icons"]:
        drawn = Image.open(io.BytesIO(get(icon["src"]).body))
        assert "{}x{}".format(*drawn.size) == icon["sizes"]


def test_what_the_head_names_is_there_and_nothing_of_it_is_secret(get):
    for address in re.findall(r'href="([^"]+)"', installed_head()):
        answer = get(address)
        assert answer.status == 200, address
        assert b"right-to" not in answer.body


def test_the_worker_keeps_the_notice_and_nothing_else(get):
    worker = get("/service-worker.js").text

    assert re.findall(r"kept\.\w+\(([^)]*)\)", worker) == ["NOTICE"]
    assert 'NOTICE = "/offline.html"' in worker
    assert "put(" not in worker


@pytest.mark.parametrize("size", [1, 100_000])
def test_an_icon_of_another_size_is_not_drawn(get, size):
    assert get(f"/icon-{size}.png").status == 404


@pytest.mark.parametrize("path", ["/manifest.webmanifest", "/icon-192.png", "/service-worker.js", "/"])
def test_who_has_no_token_gets_none_of_it(get, path):
    assert get(path, headers=[("host", "127.0.0.1")]).status == 403


def test_a_person_without_a_token_is_shown_where_to_put_it(get):
    """A program on a tablet has no address bar in which to open the link."""
    answer = get("/", headers=[("host", "127.0.0.1"), HTML])

    assert answer.status == 403
    assert '<input name="token" type="password"' in answer.text
    assert "frame-ancestors 'none'" in answer.headers["content-security-policy"]
    assert get("/?token=right-to-speak", headers=[("host", "127.0.0.1"), HTML]).status == 303
