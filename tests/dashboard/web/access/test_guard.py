from __future__ import annotations

import asyncio

import pytest
from starlette.applications import Starlette
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from dashboard.web.access.brake import TokenBrake
from dashboard.web.access.guard import Guard, is_loopback, viewing
from dashboard.web.access.tokens import UNGUESSABLE, Tokens


async def page(_request):
    return PlainTextResponse("the page")


OURS = "127.0.0.1:8050"
RIGHT = "right-to-speak"
WATCH = "right-to-watch"
KNOWN = ("cookie", f"tenths-8050={RIGHT}")
EVERYWHERE = "0.0.0.0"  # noqa: S104 - nothing is bound here


@pytest.fixture
def get(asked):
    """Asks a guarded page for itself."""

    def one(target="/", *, known=True, own=False, host="127.0.0.1", name=OURS, **headers):
        tokens = Tokens(RIGHT, own=own)
        app = Guard(Starlette(routes=[Route("/", page)]), host=host, tokens=tokens, port=8050)
        cookie = [KNOWN] if known else []
        return asked(app, target, headers=[("host", name), *cookie, *headers.items()])

    return one


@pytest.mark.parametrize("host", ["127.0.0.1:8050", "localhost:8050", "LOCALHOST", "[::1]:8050"])
def test_our_own_names_are_let_in(get, host):
    assert get(name=host).text == "the page"


@pytest.mark.parametrize(
    "host", ["evil.example:8050", "127.0.0.1.evil.example", "192.168.1.7:8050", "", "[::1"]
)
def test_another_name_for_this_machine_is_refused(get, host):
    """DNS rebinding: the name is theirs, the address ours."""
    answer = get(name=host, own=True)

    assert answer.status == 403
    assert "the page" not in answer.text


@pytest.mark.parametrize("origin", ["http://evil.example", "https://127.0.0.1:9", "null"])
def test_a_page_from_elsewhere_is_refused(get, origin):
    assert get(origin=origin).status == 403


def test_our_own_origin_is_let_in(get):
    assert get(origin=f"http://{OURS}").status == 200


def test_a_request_with_two_hosts_is_refused():
    """RFC 9112, 3.2: whoever stands between may go by the one, and the guard by the other."""
    sent = []

    async def receive():
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message):
        sent.append(message.get("status"))

    hosts = [(b"host", OURS.encode()), (b"host", b"evil.example")]
    scope = {
        "type": "http",
        "method": "GET",
        "path": "/",
        "query_string": b"",
        "headers": [*hosts, (b"authorization", f"Bearer {RIGHT}".encode())],
    }
    asyncio.run(Guard(None, host="127.0.0.1", tokens=Tokens(RIGHT), port=8050)(scope, receive, send))

    assert sent[0] == 403


def test_every_answer_forbids_whatever_is_from_elsewhere(get):
    policy = get().headers["content-security-policy"]

    assert policy.startswith("default-src 'self'")
    assert "http" not in policy


@pytest.mark.parametrize("target", ["/", "/?token=", "/?token=wrong", "/?token=%ff"])
@pytest.mark.parametrize("own", [True, False])
def test_without_the_token_nothing_is_shown(get, target, own):
    """Not even on the loopback address, which every user of the machine reaches."""
    assert get(target, known=False, own=own).status == 403


def test_the_token_is_taken_once_and_kept_in_a_cookie_no_script_can_read(get):
    answer = get(f"/?token={RIGHT}", known=False)
    cookie = answer.headers["set-cookie"]

    assert (answer.status, answer.headers["location"]) == (303, "/")
    assert "HttpOnly" in cookie
    assert "SameSite=lax" in cookie
    assert get(known=False, cookie=cookie.split(";")[0]).text == "the page"


def test_a_program_brings_the_token_in_its_head(get):
    """RFC 6750, 2.1."""
    assert get(known=False, authorization=f"Bearer {RIGHT}").text == "the page"
    assert get(known=False, authorization="Bearer wrong").status == 403
    assert get(known=False, authorization=f"Basic {RIGHT}").status == 403


def test_a_second_dashboard_of_this_machine_has_a_cookie_of_its_own(get):
    """A cookie is sent to every port of its name (RFC 6265, 8.5): the name tells them apart."""
    assert get(known=False, cookie=f"tenths-8051=another; tenths-8050={RIGHT}").text == "the page"
    assert get(known=False, cookie=f"tenths-8051={RIGHT}").status == 403


@pytest.mark.parametrize(
    "cookie", ["tenths-8050=wrong", 'tenths-8050="', "a,b;c", "tenths-8050=\xff", "\x00"]
)
def test_a_wrong_cookie_is_refused(get, cookie):
    assert get(known=False, cookie=cookie).status == 403


def test_with_a_token_an_address_of_the_network_is_a_name_of_ours(get):
    everywhere = {"known": False, "host": EVERYWHERE}

    assert get(f"/?token={RIGHT}", name="192.168.1.7:8050", **everywhere).status == 303
    assert get(f"/?token={RIGHT}", name="evil.example", **everywhere).status == 403


def test_a_socket_of_another_page_is_closed():
    """Dash lays a road for a WebSocket, which no page uses; it is guarded like everything else."""
    sent = []

    async def receive():
        return {"type": "websocket.connect"}

    async def send(message):
        sent.append(message["type"])

    async def reached(_scope, _receive, _send):
        sent.append("reached")

    scope = {"type": "websocket", "headers": [(b"host", OURS.encode()), (b"origin", b"http://evil.example")]}
    asyncio.run(Guard(reached, host="127.0.0.1", tokens=Tokens(RIGHT), port=8050)(scope, receive, send))

    assert sent == ["websocket.close"]


@pytest.mark.parametrize(
    ("host", "only_here"),
    [
        ("127.0.0.1", True),
        ("127.9.9.9", True),
        ("::1", True),
        ("localhost", True),
        (EVERYWHERE, False),
        ("::", False),
        ("192.168.1.7", False),
        ("shop", False),
    ],
)
def test_what_only_this_machine_can_reach(host, only_here):
    assert is_loopback(host) is only_here


@pytest.fixture
def both(asked):
    """Asks a page that knows who watches and who speaks."""

    async def told(_request):
        return PlainTextResponse("viewing" if viewing.get() else "speaking")

    roads = [
        Route("/", told, methods=["GET", "POST"]),
        Route("/say", told, methods=["GET", "POST"]),
        Route("/_dash-update-component", told, methods=["POST"]),
    ]
    app = Guard(Starlette(routes=roads), host=EVERYWHERE, tokens=Tokens(RIGHT, WATCH), port=8050)

    def one(target="/", *, cookie="", **more):
        kept = [("cookie", f"tenths-8050={cookie}")] if cookie else []
        return asked(app, target, headers=[("host", "192.168.1.7:8050"), *kept], **more)

    return one


def test_a_viewer_is_let_in_and_known_as_one(both):
    let_in = both(f"/?token={WATCH}")

    assert let_in.status == 303
    assert f"tenths-8050={WATCH}" in let_in.headers["set-cookie"]
    assert both(cookie=WATCH).text == "viewing"
    assert both(cookie=RIGHT).text == "speaking"


@pytest.mark.parametrize("path", ["/", "/say"])
@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH"])
def test_a_viewer_changes_nothing(both, path, method):
    answer = both(path, method=method, cookie=WATCH)

    assert answer.status == 403
    assert "change nothing" in answer.text


def test_a_viewer_may_have_something_worked_out(both):
    assert both("/_dash-update-component", method="POST", cookie=WATCH).text == "viewing"


def test_who_speaks_may_post(both):
    assert both("/say", method="POST", cookie=RIGHT).text == "speaking"


def test_a_viewer_who_is_given_the_other_address_changes_over(both):
    answer = both(f"/?token={RIGHT}", cookie=WATCH)

    assert answer.status == 303
    assert f"tenths-8050={RIGHT}" in answer.headers["set-cookie"]


@pytest.mark.parametrize("cookie", ["", "wrong", "watchx"])
def test_who_has_neither_token_sees_nothing(both, cookie):
    answer = both(cookie=cookie)

    assert answer.status == 403
    assert "ing" not in answer.text.split()[0]


def test_after_ten_wrong_tokens_in_a_minute_even_the_right_one_is_not_tried():
    now = [0.0]
    brake = TokenBrake(lambda: now[0])
    for n in range(10):
        assert not brake.holds("192.0.2.1")
        brake.took("192.0.2.1", f"guess {n}")

    assert brake.holds("192.0.2.1")
    assert not brake.holds("192.0.2.2")
    now[0] = 61.0
    assert not brake.holds("192.0.2.1")


def test_an_old_page_that_asks_again_and_again_is_no_guesser():
    brake = TokenBrake()
    for _ in range(1000):
        brake.took("192.0.2.1", "of yesterday")

    assert not brake.holds("192.0.2.1")


def test_the_guard_answers_a_guesser_no_more(asked):
    app = Guard(Starlette(routes=[Route("/", page)]), host=EVERYWHERE, tokens=Tokens(RIGHT), port=8050)
    statuses = [
        asked(app, f"/?token={guess}", headers=[("host", OURS)]).status
        for guess in (*(f"guess{n}" for n in range(10)), RIGHT)
    ]

    assert statuses == [403] * 10 + [429]


def test_nobody_shuts_the_owner_of_this_machine_out_by_guessing_at_a_token_that_nobody_guesses(asked):
    own = "w" * UNGUESSABLE
    app = Guard(Starlette(routes=[Route("/", page)]), host="127.0.0.1", tokens=Tokens(own), port=8050)
    statuses = [
        asked(app, f"/?token={guess}", headers=[("host", OURS)]).status
        for guess in (*(f"guess{n}" for n in range(10)), own)
    ]

    assert statuses == [403] * 10 + [303]
