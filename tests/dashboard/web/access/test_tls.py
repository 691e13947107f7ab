"""TLS as a client sees it: Python's own, which checks chain, names and dates as a browser does."""

from __future__ import annotations

import asyncio
import hashlib
import shutil
import signal
import socket
import ssl
import subprocess
import sys
from contextlib import asynccontextmanager, nullcontext, suppress
from http.client import HTTPSConnection
from urllib.parse import urlsplit

import pytest
import uvicorn
from starlette.requests import Request
from starlette.responses import PlainTextResponse

from dashboard.web.access import connections, tls
from dashboard.web.access.connections import BACKLOG, bounded
from dashboard.web.access.tls import TlsRefused, made_here, names_of, secured

pytestmark = pytest.mark.skipif(shutil.which("openssl") is None, reason="openssl makes the certificates")


@pytest.fixture(autouse=True)
def state(monkeypatch, tmp_path):
    """Where certificates are kept."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return tmp_path / "state" / "tenths" / "tls"


def client(cert):
    """What trusts that certificate alone."""
    return ssl.create_default_context(cafile=str(cert))


def answer(address: str, trusted, path="/health"):
    """Status, head and the fingerprint of the certificate that came."""
    link = HTTPSConnection(urlsplit(address).netloc, timeout=20, context=trusted)
    link.connect()
    seen = hashlib.sha256(link.sock.getpeercert(binary_form=True)).hexdigest().upper()
    link.request("GET", path, headers={"Connection": "close"})
    with link.getresponse() as said:
        said.read()
        return said.status, said.headers, seen


def test_a_dashboard_is_asked_over_tls_and_says_the_print_that_the_client_sees(recording, state):
    command = [sys.executable, "-m", "dashboard", str(recording), "--tls"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as server:
        address = server.stdout.readline().split()[-1]
        printed = server.stdout.readline().split()[-1]
        trusted = client(state / "cert.pem")
        status, headers, seen = answer(address, trusted, "/?" + urlsplit(address).query)
        stranger, _, _ = answer(address, trusted)
        with pytest.raises(ssl.SSLCertVerificationError):
            answer(address, ssl.create_default_context())
        server.send_signal(signal.SIGTERM)

    assert address.startswith("https://127.0.0.1:")
    assert (status, stranger) == (303, 403)
    assert "secure" in headers["set-cookie"].lower()
    assert seen == printed.replace(":", "")


def test_the_certificate_holds_for_every_name_of_this_machine_and_no_other():
    """Checked by OpenSSL's own matching of names (RFC 9525), which no code of ours does."""
    made = made_here(names_of("0.0.0.0"))  # noqa: S104 - nothing is bound here

    def holds(name: str) -> bool:
        kind = "-checkip" if name.replace(".", "").isdecimal() or ":" in name else "-checkhost"
        words = ["openssl", "x509", "-in", str(made.cert), "-noout", kind, name]
        return "does match" in subprocess.run(words, capture_output=True, text=True, check=True).stdout

    assert all(holds(name) for name in ("localhost", "127.0.0.1", "::1", socket.gethostname().lower()))
    assert not holds("example.org")
    assert not holds("192.0.2.1")


def test_the_next_start_shows_the_same_certificate_and_a_new_name_makes_one_that_keeps_the_old(state):
    first, again = made_here(["localhost"]), made_here(["localhost"])
    wider = made_here(["10.1.2.3"])

    assert first.fingerprint == again.fingerprint != wider.fingerprint
    assert made_here(["localhost"]).fingerprint == wider.fingerprint
    assert (state / "key.pem").stat().st_mode & 0o077 == 0


def test_one_that_soon_ends_is_made_anew(monkeypatch):
    first = made_here(["localhost"])
    monkeypatch.setattr(tls.time, "time", lambda now=tls.time.time: now() + 390 * 24 * 3600)

    assert made_here(["localhost"]).fingerprint != first.fingerprint


def test_a_damaged_one_is_made_anew(state):
    made_here(["localhost"])
    (state / "cert.pem").write_text("nothing\n", "ascii")

    assert made_here(["localhost"]).fingerprint


def test_a_given_certificate_is_used_and_what_cannot_be_used_is_named(tmp_path, state):
    made = made_here(["localhost"])
    given = tmp_path / "shop.pem"
    given.write_bytes(made.key.read_bytes() + made.cert.read_bytes())

    assert secured("0.0.0.0", given, None, made=False).fingerprint == made.fingerprint  # noqa: S104
    assert secured("0.0.0.0", made.cert, made.key, made=True).fingerprint == made.fingerprint  # noqa: S104
    assert secured("127.0.0.1", None, None, made=False) is None
    other = tmp_path / "other.pem"
    subprocess.run(["openssl", "genpkey", "-algorithm", "ed25519", "-out", str(other)], check=True)
    locked = tmp_path / "locked.pem"
    words = ["openssl", "pkey", "-in", str(other), "-aes256", "-passout", "pass:secret", "-out", str(locked)]
    subprocess.run(words, check=True)
    for cert, key, sentence in (
        (tmp_path / "none.pem", None, "No such file"),
        (made.cert, other, "due a certificate and its own key"),
        (made.cert, locked, "without a password"),
        (None, made.key, "due both"),
        (made.key, None, "cannot be used"),
    ):
        with pytest.raises(TlsRefused, match=sentence):
            secured("127.0.0.1", cert, key, made=False)


def test_without_openssl_it_says_what_to_do(monkeypatch):
    monkeypatch.setenv("PATH", "")

    with pytest.raises(TlsRefused, match="install it, or give --tls-cert"):
        made_here(["localhost"])


@pytest.mark.parametrize("host", ["a, DNS:evil.example", "x\n[evil]", "bad_name"])
def test_a_host_that_is_no_name_stands_in_no_certificate(host):
    assert host not in names_of(host)


async def app(scope, receive, send):
    """Answers how it was asked, and for how many bytes."""
    if scope["type"] == "http":
        text = f"{scope['scheme']} {len(await Request(scope, receive).body())}"
        await PlainTextResponse(text)(scope, receive, send)


@asynccontextmanager
async def serving(made):
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listening.bind(("127.0.0.1", 0))
    protocol = bounded(made.context)
    config = uvicorn.Config(app, log_level="warning", http=protocol, backlog=BACKLOG, lifespan="off")
    config.timeout_graceful_shutdown = 3
    server = uvicorn.Server(config)
    server.capture_signals = nullcontext  # the signals stay those of pytest
    running = asyncio.create_task(server.serve([listening]))
    while not server.started:  # noqa: ASYNC110 - uvicorn has no event for it
        await asyncio.sleep(0.01)
    try:
        yield listening.getsockname()[1]
    finally:
        server.should_exit = True
        await running


async def asked(port: int, trusted, body: bytes = b"") -> bytes:
    reader, writer = await asyncio.open_connection("127.0.0.1", port, ssl=trusted)
    head = f"POST / HTTP/1.1\r\nHost: x\r\nConnection: close\r\nContent-Length: {len(body)}\r\n\r\n"
    writer.write(head.encode() + body)
    try:
        return await reader.read()
    finally:
        writer.close()


def test_a_request_that_comes_with_the_last_of_the_handshake_is_answered():
    """In TLS 1.3 a client may send at once behind its Finished (RFC 8446, 2)."""
    made = made_here(["127.0.0.1"])

    async def session():
        async with serving(made) as port:
            return [await asked(port, client(made.cert), b"x" * size) for size in (0, 10, 60_000) * 5]

    said = [one.rpartition(b"\r\n")[2] for one in asyncio.run(session())]

    assert said == [b"https 0", b"https 10", b"https 60000"] * 5


def test_two_hundred_that_never_shake_hands_keep_nobody_out(capfd):
    made = made_here(["127.0.0.1"])

    async def session():
        async with serving(made) as port:
            silent = [await asyncio.open_connection("127.0.0.1", port) for _ in range(200)]
            said = await asked(port, client(made.cert))
            for _, writer in silent:
                writer.close()
            return said

    assert asyncio.run(session()).endswith(b"https 0")
    assert capfd.readouterr().err.count("too many connections") == 1


def test_one_that_never_shakes_hands_is_given_up(monkeypatch, capfd):
    monkeypatch.setattr(connections, "PATIENCE", 0.1)
    made = made_here(["127.0.0.1"])

    async def session():
        async with serving(made) as port:
            reader, writer = await asyncio.open_connection("127.0.0.1", port)
            with suppress(ConnectionResetError):
                assert await reader.read() == b""
            writer.close()

    asyncio.run(session())
    assert capfd.readouterr().err == ""


@pytest.mark.parametrize(
    "said", [b"GET / HTTP/1.1\r\nHost: x\r\n\r\n", b"\x16\x03\x01\x00\x05rubbish", b"\x00" * 500]
)
def test_what_is_no_tls_gets_no_page_and_costs_no_line_in_the_log(said, capfd):
    made = made_here(["127.0.0.1"])

    async def session():
        async with serving(made) as port:
            reader, writer = await asyncio.open_connection("127.0.0.1", port)
            writer.write(said)
            got = b""
            with suppress(ConnectionResetError):
                got = await reader.read()
            writer.close()
            return got, await asked(port, client(made.cert))

    got, after = asyncio.run(session())

    assert b"HTTP" not in got
    assert after.endswith(b"https 0")
    assert capfd.readouterr().err == ""


def test_an_old_version_of_tls_is_refused():
    """TLS 1.0 and 1.1 are deprecated (RFC 8996)."""
    made = made_here(["127.0.0.1"])

    assert made.context.minimum_version == ssl.TLSVersion.TLSv1_2
