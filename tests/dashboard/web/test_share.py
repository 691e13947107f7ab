from __future__ import annotations

import base64
from urllib.parse import unquote

import pytest
import segno

from dashboard.web.access.listening import own_address
from dashboard.web.share import Share, in_terminal, picture, share_of

WORDS = {"token": "speak", "viewer": "watch"}


def test_each_address_has_its_own_token():
    shared = share_of("192.168.1.7", 8050, **WORDS)

    assert shared == Share("http://192.168.1.7:8050/?token=watch", "http://192.168.1.7:8050/?token=speak")


@pytest.mark.parametrize("host", ["0.0.0.0", "::"])  # noqa: S104 - nothing is bound here
def test_an_address_that_means_everywhere_is_told_as_one_that_a_phone_finds(host):
    shared = share_of(host, 1, **WORDS)

    assert host not in shared.watch
    assert own_address() in shared.watch


def test_the_picture_is_the_code_of_the_address():
    address = "http://192.168.1.7:8050/?token=watch"
    data = picture(address)
    due = segno.make(address, micro=False, error="m").svg_data_uri(scale=6, border=4, light="#fff")

    assert data == due
    assert data.startswith("data:image/svg+xml")
    assert "<svg" in (
        unquote(data) if ";base64" not in data else base64.b64decode(data.split(",")[1]).decode()
    )


def test_the_terminal_shows_both_addresses_and_the_code_to_watch():
    said = in_terminal(Share("http://a/?token=watch", "http://a/?token=speak"))

    assert "To watch: http://a/?token=watch" in said
    assert "To work with it: http://a/?token=speak" in said
    assert said.count("\n") > 12
