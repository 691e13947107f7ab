"""What can go wrong with a serial port, said in sentences."""

from __future__ import annotations

import errno
import sys

FAULTS: tuple[type[Exception], ...] = (
    OSError,
    ValueError,
    TypeError,
    AttributeError,
    LookupError,
    ArithmeticError,
    RuntimeError,
)
"""What pyserial and its URL handlers raise; TypeError and AttributeError when a port goes away in use."""
if sys.platform != "win32":
    import termios

    FAULTS = (*FAULTS, termios.error)


def fault_of(spec: str, error: Exception) -> OSError:
    """What happened to the port, and what to do, for a person."""
    text = str(error)
    number = error.errno if isinstance(error, OSError) else None
    if type(error) is OSError and number is None:
        return error  # ours, from looking for a USB identity
    for numbers, words, sentence in _SENTENCES:
        if number in numbers or any(word in text for word in words):
            return OSError(f"{spec}: {sentence}")
    return OSError(f"{spec}: {text or type(error).__name__}")


_SENTENCES: tuple[tuple[set[int], tuple[str, ...], str], ...] = (
    (
        {errno.EIO, errno.ENXIO, errno.ENODEV, errno.EBADF, errno.EPIPE, errno.ECONNRESET},
        (
            *("disconnected", "returned no data", "reader thread died", "that is not open"),
            *("NoneType", "interpreted as an integer"),  # a port that was closed in the middle of a call
            *("ClearCommError", "ReadFile failed", "WriteFile failed", "GetOverlappedResult failed"),
        ),
        "the connection was lost: unplugged, or switched off",
    ),
    (
        {errno.ENOENT},
        ("FileNotFoundError",),
        "no such port; plug the cable in, or see `tenths gauges` for the ports there are",
    ),
    (
        {errno.EBUSY, errno.EAGAIN},
        ("exclusively lock", "PermissionError"),  # the latter is how Windows says that a port is in use
        "busy: another program has this port open; close that program",
    ),
    (
        {errno.EACCES, errno.EPERM},
        (),
        "not permitted; on Linux do `sudo usermod -aG dialout $USER` (or group uucp) and log in again",
    ),
    (
        {errno.ECONNREFUSED},
        ("refused",),
        "nothing listens there; check that the device server is on, and its address and port number",
    ),
    (
        set(),
        ("seem to support RFC2217",),
        "no RFC 2217 device server answers there; where bytes go plainly over TCP, socket:// was due",
    ),
    (
        {errno.EHOSTUNREACH, errno.ENETUNREACH, errno.ETIMEDOUT},
        ("timed out", "Name or service not known", "getaddrinfo failed", "unreachable"),
        "no way to that address; check it, the device server and the network",
    ),
    (
        {errno.EINVAL, errno.ENOTTY},
        ("Invalid argument", "Inappropriate ioctl", "configure port"),
        "this port can't do these settings (baud, bytesize, parity, stopbits), or it is no serial port",
    ),
)
"""Error numbers and words of the systems and of pyserial, and what they mean to a person."""
