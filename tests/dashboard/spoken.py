"""What the elements of a page say, for tests that read them."""

from __future__ import annotations

from typing import Any


def texts(component: Any) -> list[str]:
    """All that a component says, in order."""
    if component is None:
        return []
    if isinstance(component, str | int | float):
        return [str(component)]
    if isinstance(component, list | tuple):
        return [text for one in component for text in texts(one)]
    return texts(getattr(component, "children", None))
