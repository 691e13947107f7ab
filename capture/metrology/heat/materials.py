"""Materials and how much they expand, each with its uncertainty and where the number is from.

Published values for one material differ: "steel" by about ±0.5e-6 per kelvin, grey cast
iron from 10.8e-6 to 11.4e-6 between two tables. A row therefore carries the standard
uncertainty of a rectangular ±1e-6 (GUM 4.3.7) unless its source gives its own.
"""

from __future__ import annotations

import re
from difflib import get_close_matches
from functools import lru_cache
from math import isfinite, sqrt

from msgspec import Struct

_SPREAD = 1e-6 / sqrt(3.0)
_HANDBOOK = "Callister, Materials Science and Engineering, Appendix B, Table B.6"
_ASM = "ASM, Thermal Properties of Metals, chapter 2"
_TABLE = "common handbook tables"
_BLOCKS = "ISO 3650:1998, (11.5 ± 1.0)e-6 (from memory; GUM H.1 uses the same value)"
_MOST = 1e-4


class Expansion(Struct, frozen=True):
    """A linear expansion coefficient near 20 °C.

    Raises:
        ValueError: the numbers cannot be an expansion coefficient per kelvin.
    """

    alpha: float
    """Per kelvin: 11.4e-6, not 11.4."""
    u: float
    """Standard uncertainty, per kelvin."""
    name: str = "as entered"
    source: str = "entered by the user"

    def __post_init__(self) -> None:
        """A coefficient typed in millionths would be wrong by a million: refuse it."""
        if not isfinite(self.alpha) or abs(self.alpha) > _MOST:
            raise ValueError(
                f"expansion {self.alpha:g} of {self.name!r} is not per kelvin: write 11.4e-6, not 11.4"
            )
        if not isfinite(self.u) or not 0.0 <= self.u <= _MOST:
            raise ValueError(
                f"uncertainty {self.u:g} of the expansion of {self.name!r} must be per kelvin, 0 or more"
            )


class UnknownMaterial(ValueError):
    """A material that the table does not have."""

    def __init__(self, name: str, near: list[str]) -> None:
        self.near = f"near it: {', '.join(near)}; or give expansion = 11.4e-6 with its uncertainty"
        """The rows whose names come near, and what to do where none is meant."""
        super().__init__(f"material {name!r} is not in the table; {self.near}")


def _row(name: str, millionths: float, source: str, u: float = _SPREAD) -> Expansion:
    return Expansion(alpha=millionths * 1e-6, u=u, name=name, source=source)


MATERIALS: tuple[Expansion, ...] = (
    _row("steel", 11.7, f"{_HANDBOOK}: A36 and 1020, for a steel not named"),
    _row("steel A36", 11.7, _HANDBOOK),
    _row("steel 1020", 11.7, _HANDBOOK),
    _row("steel 1040", 11.3, _HANDBOOK),
    _row("steel 4140", 12.3, _HANDBOOK),
    _row("steel 4340", 12.3, _HANDBOOK),
    _row("stainless 304", 17.2, _HANDBOOK),
    _row("stainless 440A", 10.2, _HANDBOOK),
    _row("grey cast iron", 11.4, _HANDBOOK),
    _row("grey cast iron G1800", 11.4, _HANDBOOK),
    _row("grey cast iron G3000", 11.4, _HANDBOOK),
    _row("grey cast iron G4000", 11.4, _HANDBOOK),
    _row("ductile iron 60-40-18", 11.2, _HANDBOOK),
    _row("ductile iron 80-55-06", 10.6, _HANDBOOK),
    _row("aluminium 6061", 23.6, _HANDBOOK),
    _row("copper C11000", 17.0, _HANDBOOK),
    _row("brass C26000", 19.9, _HANDBOOK),
    _row("brass C36000", 20.5, _HANDBOOK),
    _row("bearing bronze C93200", 18.0, _HANDBOOK),
    _row("phosphor bronze C51000", 17.8, _TABLE),
    _row("cemented carbide 94WC-6Co", 4.3, _ASM),
    _row("cemented carbide 90WC-10Co", 5.2, _ASM),
    _row("chromium", 6.2, f"{_TABLE} (bulk metal; no value for electrodeposited chromium was found)"),
    _row("gauge block steel", 11.5, _BLOCKS),
)

_ALIASES = {
    "castiron": "grey cast iron",
    "greyiron": "grey cast iron",
    "ductileiron": "ductile iron 60-40-18",
    "carbonsteel": "steel",
    "mildsteel": "steel 1020",
    "alloysteel": "steel 4140",
    "stainless": "stainless 304",
    "stainlesssteel": "stainless 304",
    "aluminium": "aluminium 6061",
    "copper": "copper C11000",
    "brass": "brass C36000",
    "bronze": "bearing bronze C93200",
    "bearingbronze": "bearing bronze C93200",
    "phosphorbronze": "phosphor bronze C51000",
    "carbide": "cemented carbide 94WC-6Co",
    "tungstencarbide": "cemented carbide 94WC-6Co",
    "cementedcarbide": "cemented carbide 94WC-6Co",
    "chrome": "chromium",
    "chromiumbulk": "chromium",
    "hardchrome": "chromium",
    "hardchromium": "chromium",
    "gaugeblock": "gauge block steel",
    "gaugeblocks": "gauge block steel",
    "steelgaugeblock": "gauge block steel",
    "steelgaugeblocks": "gauge block steel",
}
_SPELLINGS = (("gray", "grey"), ("aluminum", "aluminium"), ("gage", "gauge"), ("aisi", ""), ("sae", ""))


def expansion(name: str) -> Expansion:
    """The row of :data:`MATERIALS` that a sheet means by *name*.

    Case, spaces, hyphens and American spelling do not matter; a bare designation
    such as ``4140`` is enough.

    >>> expansion("Gray cast-iron").alpha
    1.14e-05
    >>> expansion("steel 4104")
    Traceback (most recent call last):
    capture.metrology.heat.materials.UnknownMaterial: material 'steel 4104' is not in the table; \
near it: steel 4140, steel 1040, steel 4340; or give expansion = 11.4e-6 with its uncertainty

    Raises:
        UnknownMaterial: no row has that name; the message says which come near.
    """
    key = _key(name)
    found = _named(key)
    if found is None:
        raise UnknownMaterial(name, _near(name, key))
    return found


@lru_cache(maxsize=64)
def _named(key: str) -> Expansion | None:
    rows = {_key(row.name): row for row in MATERIALS}
    return rows.get(_key(_ALIASES.get(key, ""))) or rows.get(key) or _by_designation(key)


@lru_cache(maxsize=64)
def _key(name: str) -> str:
    key = name.lower()
    for american, ours in _SPELLINGS:
        key = key.replace(american, ours)
    return re.sub(r"[^a-z0-9]", "", key)


def _by_designation(key: str) -> Expansion | None:
    """The only row whose designation, its last word, is *key* with or without "steel"."""
    designated = [(_key(row.name.split()[-1]), row) for row in MATERIALS if re.search(r"\d", row.name)]
    found = [
        row
        for designation, row in designated
        if key in {designation, f"steel{designation}", f"{designation}steel"}
    ]
    return found[0] if len(found) == 1 else None


def _near(name: str, key: str) -> list[str]:
    names = {_key(row.name): row.name for row in MATERIALS}
    near = [names[match] for match in get_close_matches(key, names, n=3, cutoff=0.6)]
    words = set(re.findall(r"[a-z]{4,}", name.lower()))
    sharing = [row.name for row in MATERIALS if words & set(row.name.lower().split())]
    return list(dict.fromkeys(near + sharing))[:3] or ["steel", "grey cast iron", "aluminium 6061"]
