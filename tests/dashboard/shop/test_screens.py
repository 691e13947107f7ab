"""The screen of one machine, begun by the shop's page: where it says that it is."""

from __future__ import annotations

import pytest

from dashboard.shop.screens import MachineScreens, NoScreen, port_said


@pytest.mark.parametrize(
    ("line", "port"),
    [
        ("http://127.0.0.1:8501/?token=a%20b\n", 8501),
        ("the page is at http://[::1]:40123/?token=abc#size", 40123),
        ("http://shop-office:8080/ , stop it with Ctrl-C", 8080),
        ("", None),
        ("tenths: http is not to be had here", None),
        ("tenths: http://: a host and a port are due", None),
        ("tenths: http://127.0.0.1:none/ cannot be listened at", None),
        ("tenths: http://127.0.0.1:99999/ is no port", None),
        ("tenths: [http://[half:1/ is no address", None),
        ("tenths: see https://127.0.0.1:9443/ and ftp://127.0.0.1:21/", None),
    ],
)
def test_only_an_address_of_the_screens_own_scheme_gives_its_port(line, port):
    assert port_said(line, "http") == port


def test_a_screen_that_cannot_listen_is_said_and_leaves_nothing_behind(tmp_path):
    screens = MachineScreens("203.0.113.1")  # RFC 5737: no address of any computer

    with pytest.raises(NoScreen, match="it ended"):
        screens.address(tmp_path / "good.jsonl", "localhost")

    screens.close()
