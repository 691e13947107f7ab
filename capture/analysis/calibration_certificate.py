"""A digital calibration certificate (DCC, an openly published XML schema, namespace https://ptb.de/dcc).

Read are its number, dates, the item, and every length with its uncertainty (``si:real`` of the D-SI schema,
https://ptb.de/si, in the forms of versions 1 and 2). A signature is not checked, nor is the schema: what is
taken is shown to the person who takes it.
"""

from __future__ import annotations

from datetime import date
from math import isfinite
from typing import Any, Final

from msgspec import Struct

DCC: Final = "{https://ptb.de/dcc}"
SI: Final = "{https://ptb.de/si}"
LARGEST: Final = 8 << 20
"""Bytes of a certificate."""
MOST: Final = 1000
"""Quantities that are read."""
UNITS: Final = {
    r"\metre": 1e3,
    r"\milli\metre": 1.0,
    r"\micro\metre": 1e-3,
    r"\nano\metre": 1e-6,
    r"\centi\metre": 10.0,
}
"""mm of one of each unit of length, as D-SI writes it."""


class BadCertificate(Exception):
    """What came is no certificate that can be read: what came, what was due."""


class CertifiedLength(Struct, frozen=True):
    """A length of a certificate."""

    name: str
    value: float
    """mm."""
    u: float | None
    """Standard uncertainty, mm: the expanded one over its coverage factor; None where it has none."""
    expanded: float | None
    k: float | None


class CalibrationCertificate(Struct, frozen=True):
    """What a certificate says."""

    number: str
    item: str
    marks: tuple[str, ...]
    """By which the item is known: its own number and the like."""
    performed: str
    """Day on which the calibration ended, ISO 8601."""
    issued: str
    lengths: tuple[CertifiedLength, ...]
    signed: bool
    """It carries a signature; it was not checked."""


def read_certificate(body: bytes) -> CalibrationCertificate:
    """What a digital calibration certificate says.

    Raises:
        BadCertificate: It is too large, no XML, has a document type or entities, or is no such certificate.
    """
    from lxml import etree  # noqa: PLC0415 - only certificates need it

    if len(body) > LARGEST:
        raise BadCertificate(f"{len(body)} bytes came, due at most {LARGEST}")
    parser = etree.XMLParser(
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        huge_tree=False,
        remove_comments=True,
        remove_pis=True,
    )
    try:
        root = etree.fromstring(body, parser)
    except (etree.XMLSyntaxError, ValueError) as error:
        raise BadCertificate(f"no XML that can be read: {error}") from None
    info: Any = root.getroottree().docinfo
    if info.doctype or any(not isinstance(each.tag, str) for each in root.iter()):
        raise BadCertificate("a document type or entities came, which no certificate needs")
    if root.tag != f"{DCC}digitalCalibrationCertificate":
        raise BadCertificate(
            f"{str(root.tag)[:80]} came, due a digitalCalibrationCertificate of https://ptb.de/dcc"
        )
    core = f"{DCC}administrativeData/{DCC}coreData/{DCC}"
    item = f"{DCC}administrativeData/{DCC}items/{DCC}item"
    performed = _text(root, f"{core}endPerformanceDate") or _text(root, f"{core}beginPerformanceDate")
    return CalibrationCertificate(
        number=_text(root, f"{core}uniqueIdentifier"),
        item=_text(root, f"{item}/{DCC}name/{DCC}content"),
        marks=tuple(
            _plain(one.text)
            for one in root.findall(f"{item}/{DCC}identifications/{DCC}identification/{DCC}value")[:10]
        ),
        performed=_day(performed, "endPerformanceDate"),
        issued=_day(_text(root, f"{core}issueDate"), "issueDate"),
        lengths=tuple(_lengths(root)),
        signed=root.find("{http://www.w3.org/2000/09/xmldsig#}Signature") is not None,
    )


def overdue(due: str | None, today: date) -> bool:
    """Whether a day, ISO 8601, is over; nothing is overdue where none is given.

    >>> overdue("2026-01-31", date(2026, 2, 1)), overdue("2026-01-31", date(2026, 1, 31))
    (True, False)
    """
    return due is not None and today > date.fromisoformat(due)


def _lengths(root: Any) -> list[CertifiedLength]:
    found = []
    for quantity in list(root.iter(f"{DCC}quantity"))[:MOST]:
        for real in quantity.iter(f"{SI}real"):
            scale = UNITS.get(_text(real, f"{SI}unit"))
            value = None if scale is None else _number(real, f"{SI}value")
            if scale is None or value is None:
                continue
            expanded, k = _uncertainty(real)
            u = None if expanded is None or not k else scale * expanded / k
            name = _text(quantity, f"{DCC}name/{DCC}content")
            found.append(
                CertifiedLength(name, scale * value, u, None if expanded is None else scale * expanded, k)
            )
    return found


def _uncertainty(real: Any) -> tuple[float | None, float | None]:
    """The expanded uncertainty and its coverage factor; a standard uncertainty has the factor 1."""
    one, two = f"{SI}expandedUnc/{SI}", f"{SI}measurementUncertaintyUnivariate/{SI}expandedMU/{SI}"
    for value, factor in (
        (f"{one}uncertainty", f"{one}coverageFactor"),
        (f"{two}valueExpandedMU", f"{two}coverageFactor"),
    ):
        expanded, k = _number(real, value), _number(real, factor)
        if expanded is not None and k is not None and k > 0 and expanded >= 0:
            return expanded, k
    standard = _number(real, f"{SI}measurementUncertaintyUnivariate/{SI}standardMU/{SI}valueStandardMU")
    return (None, None) if standard is None or standard < 0 else (standard, 1.0)


def _number(node: Any, path: str) -> float | None:
    text = _text(node, path)
    try:
        value = float(text)
    except ValueError:
        return None
    return value if isfinite(value) and "_" not in text else None


def _text(node: Any, path: str) -> str:
    found = node.find(path)
    return "" if found is None else _plain(found.text)


def _plain(text: str | None) -> str:
    return " ".join((text or "").split())[:200]


def _day(text: str, what: str) -> str:
    if not text:
        return ""
    try:
        return date.fromisoformat(text[:10]).isoformat()
    except ValueError:
        raise BadCertificate(f"{what}: came {text[:40]!r}, due a day such as 2026-05-04") from None
