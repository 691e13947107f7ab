"""What following the advice would have come to, as a sentence."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from capture.report.terminal.coach_text import K95
from capture.sheet.job import Units
from capture.text.lengths import size, small


def what_if_text(played: Mapping[str, Any], units: Units) -> str:
    """One sentence of `whatif.Played`, its fields by name.

    >>> game = {"after": 4, "passes": 12, "saved": 3, "size": 54.9971, "u_size": 0.0004, "inside": True}
    >>> what_if_text({**game, "why": ""}, "mm").splitlines()[0]
    'Had the advice been followed from pass 4 on: 12 passes, 3 fewer than were made,'
    """
    begin = f"Had the advice been followed from pass {played['after']} on"
    if played["why"]:
        return f"{begin}: not known ({played['why']})."
    saved = played["saved"]
    than = "" if saved is None else f", {_fewer(saved)} than were made" if saved else ", as many as were made"
    where = "in the band" if played["inside"] else "OUTSIDE the band"
    landed = f"{size(played['size'], units)} ± {small(K95 * played['u_size'], units)} (95 %), {where}"
    return (
        f"{begin}: {played['passes']} passes{than},\n"
        f"landing at {landed}; by the machine as this session showed it, an estimate."
    )


def _fewer(saved: int) -> str:
    return f"{saved} fewer" if saved > 0 else f"{-saved} more"
