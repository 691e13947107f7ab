"""TLS: a certificate that a person gives, or one made on the spot and kept for the next start.

It is made by the system's `openssl`. Nobody has signed it but itself, so a browser warns of it once: whoever
opens the page compares the fingerprint that the dashboard shows with the one that the browser shows.
"""

from __future__ import annotations

import hashlib
import re
import shutil
import socket
import ssl
import subprocess
import tempfile
import time
from collections.abc import Iterable
from pathlib import Path
from typing import Final

import msgspec
from msgspec import Struct

from capture.host.private_files import others_may_read, state_folder
from dashboard.web.access.guard import is_address
from dashboard.web.access.listening import own_address

DAYS: Final = 397
"""For which a certificate is made: browsers take none for longer than 398 (CA/Browser Forum, BR 6.3.2)."""
_RENEWED: Final = 14
"""Days before its end at which a new one is made."""
_PATIENCE: Final = 20.0
"""Seconds for one call of openssl."""
_NAME: Final = re.compile(r"[A-Za-z0-9]([A-Za-z0-9.-]{0,251}[A-Za-z0-9])?")
_FORM: Final = """[req]
distinguished_name = subject
x509_extensions = extensions
prompt = no
[subject]
CN = {name}
O = tenths
[extensions]
basicConstraints = critical, CA:FALSE
keyUsage = critical, digitalSignature
extendedKeyUsage = serverAuth
subjectAltName = {names}
"""


class TlsRefused(ValueError):
    """A certificate that cannot be used or made; the text says why, for a person."""


class Secured(Struct, frozen=True):
    """What a server shows to be spoken to over TLS."""

    context: ssl.SSLContext
    fingerprint: str
    """SHA-256 of the certificate, as browsers show it: pairs of digits with colons."""
    cert: Path
    key: Path


class _Made(Struct):
    """What is kept beside a certificate that was made here."""

    names: list[str]
    until: float
    """Seconds since 1970."""


def secured(host: str, cert: Path | None, key: Path | None, *, made: bool) -> Secured | None:
    """What *cert* and *key* give, else a certificate made on the spot where *made*, else None: plain HTTP.

    Raises:
        TlsRefused: One is missing, does not fit the other, or cannot be made.
    """
    if cert is None and key is None:
        return made_here(names_of(host)) if made else None
    if cert is None:
        raise TlsRefused("--tls-key came without --tls-cert: due both")
    return _loaded(cert, key or cert)


def names_of(host: str) -> list[str]:
    """Names and addresses under which a browser asks for a page that listens at *host*."""
    own = socket.gethostname().lower()
    found = dict.fromkeys(["localhost", "127.0.0.1", "::1", own, f"{own}.local", own_address(), host.lower()])
    return [name for name in found if _form_of(name) and name not in {"0.0.0.0", "::"}]  # noqa: S104 - compared


def made_here(names: Iterable[str]) -> Secured:
    """The certificate that was made here before, or a new one where it lacks one of *names* or soon ends.

    Raises:
        TlsRefused: There is no openssl, or it cannot make or keep one.
    """
    folder, due = state_folder() / "tls", set(names)
    cert, key, about = folder / "cert.pem", folder / "key.pem", folder / "made.json"
    try:
        known = msgspec.json.decode(about.read_bytes(), type=_Made)
        if due <= set(known.names) and known.until > time.time() and not others_may_read(key):
            return _loaded(cert, key)
        due |= set(known.names)  # an address that comes and goes costs no new certificate each time
    except (OSError, msgspec.MsgspecError, TlsRefused):
        pass
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder) as place:
            _make(Path(place), sorted(due))
            until = time.time() + (DAYS - _RENEWED) * 24 * 3600
            (Path(place) / about.name).write_bytes(msgspec.json.encode(_Made(sorted(due), until)))
            for file in (key, cert, about):
                (Path(place) / file.name).replace(file)
    except OSError as error:
        raise TlsRefused(f"--tls: {folder}: {error.strerror or error}") from None
    return _loaded(cert, key)


def _make(place: Path, names: list[str]) -> None:
    """Writes a key and its certificate into *place*, which only this user reads."""
    program = shutil.which("openssl")
    if program is None:
        raise TlsRefused("--tls: openssl is due to make a certificate: install it, or give --tls-cert")
    name = next((one for one in names if not is_address(one) and one != "localhost"), "localhost")
    form = _FORM.format(name=name[:64], names=", ".join(filter(None, map(_form_of, names))))
    (place / "form").write_text(form, "ascii")
    files = ("-key", "key.pem", "-out", "cert.pem")
    words = (
        ["ecparam", "-name", "prime256v1", "-genkey", "-noout", "-out", "key.pem"],
        ["req", "-x509", "-new", "-sha256", "-days", f"{DAYS}", "-config", "form", *files],
    )
    for one in words:
        try:
            done = subprocess.run(
                [program, *one], cwd=place, capture_output=True, text=True, timeout=_PATIENCE, check=False
            )
        except subprocess.TimeoutExpired:
            raise TlsRefused(f"--tls: openssl {one[0]} took more than {_PATIENCE:g} s") from None
        if done.returncode:
            said = " ".join(done.stderr.split())[:200]
            raise TlsRefused(f"--tls: openssl {one[0]} ended with {done.returncode}: {said}")
    (place / "key.pem").chmod(0o600)


def _loaded(cert: Path, key: Path) -> Secured:
    """A context with the certificate; TLS 1.2 and later, as RFC 8996 asks."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    context.set_alpn_protocols(["http/1.1"])
    try:
        # without one of its own, a key with a password asks for it at the terminal
        context.load_cert_chain(cert, key, password=lambda: "")
        first = cert.read_text("ascii").partition("-----END CERTIFICATE-----")
        whole = ssl.PEM_cert_to_DER_cert("".join(first[:2])[first[0].index("-----BEGIN CERTIFICATE-----") :])
    except ssl.SSLError as error:
        why = f" ({error.reason.lower().replace('_', ' ')})" if error.reason else ""
        due = "due a certificate and its own key, without a password, as PEM"
        raise TlsRefused(f"--tls-cert {cert}, --tls-key {key}: cannot be used{why}: {due}") from None
    except ValueError:  # the first certificate stands in bytes that are none
        raise TlsRefused(f"--tls-cert {cert}: due a certificate as PEM") from None
    except OSError as error:
        named = error.filename or f"{cert} or {key}"  # the ssl module names no file
        raise TlsRefused(f"--tls-cert: {named}: {error.strerror or error}") from None
    digest = hashlib.sha256(whole).hexdigest().upper()
    printed = ":".join(digest[at : at + 2] for at in range(0, len(digest), 2))
    return Secured(context, printed, cert, key)


def _form_of(name: str) -> str | None:
    """How a certificate writes a name (RFC 5280, 4.2.1.6); None where it can be none.

    >>> _form_of("10.0.0.7"), _form_of("shop-pc.local"), _form_of("a, DNS:b")
    ('IP:10.0.0.7', 'DNS:shop-pc.local', None)
    """
    if is_address(name):
        return f"IP:{name}"
    return f"DNS:{name}" if _NAME.fullmatch(name) else None
