"""What is wrong with a connection to the broker, in one sentence for a person."""

from __future__ import annotations

import ssl
from typing import Final

WRONG_PASSWORD: Final = 0x86
NOT_AUTHORIZED: Final = 0x87
TAKEN_OVER: Final = 0x8E
ENDED: Final = "the connection ended"
ENDED_EARLY: Final = f"{ENDED} before the broker answered: perhaps TLS is due there (mqtts://)"
REFUSED: Final = {
    0x80: ENDED,
    WRONG_PASSWORD: "the user or the password is wrong",
    NOT_AUTHORIZED: "this user may not do that: look at the broker's access list",
    TAKEN_OVER: "another program uses the same name at the broker: give each publisher a machine's name "
    "of its own, and each archive a --name",
    0x97: "the broker's quota is used up",
}
"""What some of MQTT 5's reason codes (OASIS MQTT 5.0, 2.4) ask of a person."""
_UNKNOWN_SIGNER: Final = frozenset({18, 19, 20, 21})
"""X.509's errors of a chain that ends at nobody who is trusted (OpenSSL, X509_STORE_CTX_get_error(3))."""


def not_connected(error: Exception, *, secure: bool) -> str:
    """Why no connection was made; *secure*: over TLS.

    >>> not_connected(ConnectionRefusedError(111, "Connection refused"), secure=True)
    'Connection refused'
    """
    if isinstance(error, ssl.SSLCertVerificationError):
        why = f"its certificate does not hold: {error.verify_message.rstrip('.')}"
        signer = error.verify_code in _UNKNOWN_SIGNER
        return f"{why}: due the certificate of who signed it (--ca, or ca in shop.toml)" if signer else why
    why = str(getattr(error, "strerror", "") or error)
    if secure and isinstance(error, ConnectionResetError | ssl.SSLError):
        return f"{why}: perhaps no TLS is spoken at this port"
    return why
