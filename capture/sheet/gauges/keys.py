"""Keys of one gauge changed in the text of a sheet; comments, order and all other keys stay."""

from __future__ import annotations

from collections.abc import Mapping, MutableMapping
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from capture.sheet.faults import BadSheet, Fault


def with_keys(text: str, gauge: str, keys: Mapping[str, Any]) -> str:
    """The sheet *text* with *keys* set under the gauge of that name.

    Raises:
        BadSheet: It is not TOML, or has no such gauge.
    """
    try:
        document = tomlkit.parse(text)
    except (TOMLKitError, ValueError, RecursionError) as error:
        raise BadSheet("", [Fault((), "syntax", "", due=f"not TOML: {error}")]) from None
    listed: Any = document.get("gauge", [])
    found = [one for one in listed if isinstance(one, MutableMapping)] if isinstance(listed, list) else []
    for one in found:
        if one.get("name") == gauge:
            one.update(keys)
            return tomlkit.dumps(document)
    names = ", ".join(str(one.get("name")) for one in found) or "none"
    due = f"the name of a gauge of the sheet: {names}"
    raise BadSheet("", [Fault(("gauge",), "value", "gauge", came=repr(gauge), due=due)])
