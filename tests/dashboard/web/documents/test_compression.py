from __future__ import annotations

import gzip

import pytest
from starlette.applications import Starlette
from starlette.responses import Response
from starlette.routing import Route

from dashboard.web.documents.compression import CompressedFiles

SCRIPT = b"const a = 1;\n" * 500


def answered(kind):
    async def answer(_request):
        return Response(SCRIPT, media_type=kind)

    return answer


@pytest.fixture
def get(asked):
    """Asks for a file, and says how it may come."""
    routes = [
        Route("/assets/one.js", answered("text/javascript")),
        Route("/assets/one.png", answered("image/png")),
        Route("/page", answered("text/javascript")),
    ]
    app = CompressedFiles(Starlette(routes=routes))

    def one(path, takes="gzip"):
        answer = asked(app, path, headers=[("accept-encoding", takes)])
        return answer.headers, answer.body

    return one


def test_a_script_comes_compressed_and_whole(get):
    for _ in range(2):  # the second time from what was kept
        headers, body = get("/assets/one.js")
        assert headers["content-encoding"] == "gzip"
        assert int(headers["content-length"]) == len(body) < len(SCRIPT) / 10
        assert gzip.decompress(body) == SCRIPT


@pytest.mark.parametrize(("path", "takes"), [("/assets/one.js", "identity"), ("/assets/one.png", "gzip")])
def test_who_does_not_take_it_so_gets_it_plain_and_a_picture_is_left_as_it_is(get, path, takes):
    headers, body = get(path, takes)

    assert "content-encoding" not in headers
    assert body == SCRIPT


def test_what_a_page_says_is_never_compressed(get):
    """Beside a text that another chooses its length would tell of what is secret (BREACH)."""
    headers, body = get("/page")

    assert "content-encoding" not in headers
    assert body == SCRIPT


def test_an_address_that_changes_with_its_file_is_kept_for_a_year(get):
    assert get("/assets/one.js?m=1.5")[0]["cache-control"] == "public, max-age=31536000"
    assert "cache-control" not in get("/assets/one.js")[0]
