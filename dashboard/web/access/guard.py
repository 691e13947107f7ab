"""Who may ask: requests from the dashboard's own page, and with its token."""

from __future__ import annotations

import hmac
import ipaddress
import socket
from contextvars import ContextVar
from http.cookies import CookieError, SimpleCookie
from typing import Final
from urllib.parse import parse_qs, urlsplit

from starlette.datastructures import Headers
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from dashboard.web.access.body import LONGEST, PATIENCE, TooLong, TooSlow, read_body
from dashboard.web.access.brake import TokenBrake
from dashboard.web.access.tokens import UNGUESSABLE, Tokens
from dashboard.web.documents.direction import without_marks
from dashboard.web.documents.installed import refusal

ANSWERS: Final = frozenset({"/_dash-update-component"})
"""What even a viewer may post to: it works something out, and changes nothing."""
KNOWN: Final = 30 * 24 * 3600
"""Seconds in which a browser is known by its cookie."""
viewing: ContextVar[bool] = ContextVar("viewing", default=False)
"""Whether who asks may only see."""
LOOPBACK: Final = frozenset({"localhost", "127.0.0.1", "::1"})

_POLICY: Final = (
    "default-src 'self'; script-src 'self' 'unsafe-inline'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; font-src 'self' data:; worker-src 'self' blob:; frame-ancestors 'none'"
)
HEADERS: Final = (
    (b"content-security-policy", _POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-resource-policy", b"same-origin"),
)
"""Nothing from elsewhere is loaded, and no other page may frame this one. Dash starts by an inline script."""


def is_loopback(host: str) -> bool:
    """Whether only this machine can reach *host*."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


class Guard:
    """Refuses a request whose Host or Origin is not ours (DNS rebinding), or that lacks a token.

    Who brings the *viewer*'s token may see everything and change nothing.
    """

    def __init__(self, app: ASGIApp, *, host: str, tokens: Tokens, port: int, secure: bool = False) -> None:
        self.app = app
        self._secure = secure
        self._tokens = tokens
        self._cookie = f"tenths-{port}"  # a browser keeps one jar for all ports of a name (RFC 6265, 8.5)
        self._open = not tokens.own
        self._brake = TokenBrake()
        given = (tokens.speak, tokens.view or tokens.speak)
        self._guessable = min(len(one) for one in given) < UNGUESSABLE
        """Else a guesser on this machine would only shut its owner out."""
        self._names = names(host, reachable=self._open)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request of any kind."""
        if scope["type"] not in {"http", "websocket"}:
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        if not self._ours(headers):
            await _refuse(scope, receive, send, "this address is not the dashboard's own")
        elif self._brought(headers) is None or self._asks_anew(scope, headers):
            await self._let_in(scope, receive, send)
        elif self._brought(headers) == self._tokens.view:
            await self._view(scope, receive, send)
        else:
            await self._on(scope, receive, send)

    async def _on(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Hands a request on, with its whole body."""
        if scope["type"] == "http" and scope["method"] not in {"GET", "HEAD"}:
            try:
                receive = await read_body(scope, receive)
            except TooLong:
                await _answer(scope, receive, send, f"Refused: more than {LONGEST} bytes came.\n", 413)
                return
            except TooSlow:
                await _answer(scope, receive, send, f"Refused: no whole body within {PATIENCE:g} s.\n", 408)
                return
        await self.app(scope, receive, _with_headers(_not_found(scope, without_marks(scope, send))))

    async def _view(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "websocket" or (
            scope["method"] not in {"GET", "HEAD"} and scope["path"] not in ANSWERS
        ):
            await _refuse(scope, receive, send, "a viewer may see everything and change nothing")
            return
        role = viewing.set(True)
        try:
            await self._on(scope, receive, send)
        finally:
            viewing.reset(role)

    def _ours(self, headers: Headers) -> bool:
        host, origin = headers.get("host", ""), headers.get("origin")
        if len(headers.getlist("host")) > 1:  # whoever stands between might go by the other (RFC 9112, 3.2)
            return False
        try:
            name, from_us = urlsplit(f"//{host}").hostname, origin is None or urlsplit(origin).netloc == host
        except ValueError:
            return False
        return from_us and self._is_name(name or "")

    def _is_name(self, name: str) -> bool:
        if name.lower() in self._names:
            return True
        return self._open and is_address(name)

    def _brought(self, headers: Headers) -> str | None:
        """The token that the browser's cookie holds, or a program's head (RFC 6750), if it is one of ours."""
        scheme, _, given = headers.get("authorization", "").partition(" ")
        if scheme.lower() == "bearer":
            return self._ours_of(given)
        try:
            cookie = SimpleCookie(headers.get("cookie", "")).get(self._cookie)
        except CookieError:
            return None
        return None if cookie is None else self._ours_of(cookie.value)

    def _asks_anew(self, scope: Scope, headers: Headers) -> bool:
        """Whether a browser that is known brings the other token in the address, and changes over."""
        given = self._ours_of(_in_address(scope))
        return scope["type"] == "http" and given is not None and given != self._brought(headers)

    def _ours_of(self, given: str) -> str | None:
        known = [
            one for one in (self._tokens.speak, self._tokens.view) if one is not None and _same(given, one)
        ]
        return known[0] if known else None

    async def _let_in(self, scope: Scope, receive: Receive, send: Send) -> None:
        given, address = _in_address(scope), (scope.get("client") or ("",))[0]
        if scope["type"] == "http" and given and self._guessable and self._brake.holds(address):
            text = "Refused: too many wrong tokens came from your address: wait a minute.\n"
            await _answer(scope, receive, send, text, 429)
            return
        token = self._ours_of(given)
        if given and token is None:
            self._brake.took(address, given)
        if scope["type"] != "http" or token is None:
            why = "open the dashboard by the address with its token, as it was printed"
            if scope["type"] == "http" and scope["method"] == "GET" and _is_for_a_person(scope):
                page = HTMLResponse(refusal(f"Refused: {why}."), status_code=403)
                await page(scope, receive, _with_headers(send))
            else:
                await _refuse(scope, receive, send, why)
            return
        answer = RedirectResponse("/", status_code=303)
        # Strict would keep it from the very page that a link, a camera or the private file has sent here.
        answer.set_cookie(
            self._cookie, token, httponly=True, secure=self._secure, samesite="lax", max_age=KNOWN
        )
        await answer(scope, receive, send)


def names(host: str, *, reachable: bool) -> frozenset[str]:
    """Names under which the page may be asked for."""
    own = socket.gethostname().lower()
    return LOOPBACK | {host.lower()} | ({own, f"{own}.local"} if reachable else set())


def is_address(name: str) -> bool:
    """Whether *name* is an address of IP, version 4 or 6."""
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def _is_for_a_person(scope: Scope) -> bool:
    """Whether a browser asks for a page to be shown, and not a script or a program."""
    return "text/html" in Headers(scope=scope).get("accept", "")


def _in_address(scope: Scope) -> str:
    asked: bytes = scope.get("query_string", b"")
    return parse_qs(asked.decode("latin-1")).get("token", [""])[0]


def _same(one: str, other: str) -> bool:
    return hmac.compare_digest(one.encode("utf-8", "replace"), other.encode())


async def _refuse(scope: Scope, receive: Receive, send: Send, why: str) -> None:
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": 1008, "reason": why})
        return
    await _answer(scope, receive, send, f"Refused: {why}.\n", 403)


async def _answer(scope: Scope, receive: Receive, send: Send, text: str, status: int) -> None:
    """A refusal; of a body that nobody reads the connection ends with it."""
    headers = {} if scope["method"] in {"GET", "HEAD"} else {"connection": "close"}
    await PlainTextResponse(text, status_code=status, headers=headers)(scope, receive, send)


def _not_found(scope: Scope, send: Send) -> Send:
    """Dash answers 500 to a callback or a library's name that is none; its own faults do not end so."""
    if not scope["path"].startswith("/_dash-"):
        return send

    async def sent(message: Message) -> None:
        if message["type"] == "http.response.start" and message["status"] == 500:
            message = {**message, "status": 404 if scope["method"] in {"GET", "HEAD"} else 400}
        await send(message)

    return sent


def _with_headers(send: Send) -> Send:
    async def sent(message: dict[str, object]) -> None:
        if message["type"] == "http.response.start":
            own: list[tuple[bytes, bytes]] = list(message.get("headers", []))  # type: ignore[call-overload]  # ASGI's list of pairs
            named = {name for name, _ in own}
            message = {**message, "headers": [*own, *(one for one in HEADERS if one[0] not in named)]}
        await send(message)

    return sent  # type: ignore[return-value]  # ASGI messages are any mapping
