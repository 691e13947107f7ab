"""Hard chrome: what to strip to, what to order from the plater, and what is left after grinding.

Thicknesses are per side, diameters on diameter, millimetres. With finished diameter D,
finished thickness t and grinding stock s per side: strip to ``D - 2 t``, plate to
``D + 2 s``, deposit ``t + s`` per side; where the ground surface runs out by TIR to the
stripped one the least thickness is ``t - TIR / 2``.
"""

from __future__ import annotations

from math import isfinite

from msgspec import Struct

from capture.metrology.cautions import Basis, Caution, caution
from capture.metrology.message import Length, NotPossible, Sentence, message
from capture.metrology.message import thickness as thick
from capture.metrology.plating.relief import (
    BAKE_HOURS,
    BAKE_SOURCE,
    BAKE_WITHIN,
    BEGINS,
    HRC_OF,
    RELIEF_HOURS,
    RELIEF_SOURCE,
    HeatTreatment,
    heat_treatment,
)

FARADAY = 96485.33212
"""C/mol."""
_NANOMETRE = 1e-6
"""Sums of decimals may miss a limit by less than can be measured, mm."""
_ARCHIVE = "STERC hard-chrome question archive"
_OVERHAUL = "an engine-overhaul standard practice, 70-00-01"


class ShopSetting(Struct, frozen=True):
    """A number that a shop may set otherwise, and where ours is from."""

    value: float
    unit: str
    source: str
    basis: Basis


class ChromeLimits(Struct, frozen=True):
    """Limits of hard chrome work; every one can be set otherwise."""

    thinnest: ShopSetting = ShopSetting(
        0.0127, "mm per side", f"{_ARCHIVE}, September 2007: 0.0005 in", "published"
    )
    thickest: ShopSetting = ShopSetting(
        0.635, "mm per side", f"{_ARCHIVE}, September 2007: 0.025 in", "published"
    )
    stock_least: ShopSetting = ShopSetting(
        0.0254, "mm per side", f"{_ARCHIVE}, October 2008: 0.001 in", "published"
    )
    stock_most: ShopSetting = ShopSetting(
        0.0762, "mm per side", f"{_ARCHIVE}, October 2008: 0.003 in", "published"
    )
    repair_hardness: ShopSetting = ShopSetting(48.0, "HRC", "AMS 2460, scope", "published")
    relief_hardness: ShopSetting = ShopSetting(
        HRC_OF[0][0], "HRC", f"{BAKE_SOURCE}: {BEGINS:g} MPa, approximately", "published"
    )
    relief_hours: ShopSetting = ShopSetting(RELIEF_HOURS[0][1], "h", f"{RELIEF_SOURCE}, least", "from memory")
    bake_within: ShopSetting = ShopSetting(BAKE_WITHIN, "h", _OVERHAUL, "published")
    bake_coolest: ShopSetting = ShopSetting(190.0, "degC", BAKE_SOURCE, "published")
    bake_hottest: ShopSetting = ShopSetting(220.0, "degC", BAKE_SOURCE, "published")
    bake_hours: ShopSetting = ShopSetting(
        BAKE_HOURS[0][1], "h", f"{BAKE_SOURCE}: least, 2 h more for each 100 MPa", "published"
    )
    salvage_least: ShopSetting = ShopSetting(
        0.05, "mm per side", "of a ground layer that builds a worn part up", "common practice, no source"
    )
    base_finish: ShopSetting = ShopSetting(0.8, "um Ra", f"{_OVERHAUL}: 32 uin", "published")
    edge_radius: ShopSetting = ShopSetting(0.8, "mm", f"{_OVERHAUL}: 1/32 in", "published")
    base_runout: ShopSetting = ShopSetting(0.01, "mm", "to the centres", "common practice, no source")
    deepest_pass: ShopSetting = ShopSetting(
        0.01, "mm", "notes on grinding hard chrome", "common practice, no source"
    )


class Order(Struct, frozen=True):
    """What to tell the plater, and what there will be at the end; mm."""

    finished: float
    thickness: float
    """Of chromium per side when finished."""
    stock: float
    """To grind off, per side."""
    strip: float
    """Diameter to grind or strip the base to."""
    plated: float
    """Diameter to plate to."""
    deposit: float
    """Chromium to deposit, per side."""
    least: float
    """Least thickness left after grinding, where the runout is worst."""
    cautions: tuple[Caution, ...]


def order(
    finished: float,
    *,
    thickness: float,
    stock: float,
    runout: float = 0.0,
    least_wanted: float = 0.0,
    hardness: float | None = None,
    strength: float | None = None,
    limits: ChromeLimits = ChromeLimits(),  # noqa: B008 - a frozen value
) -> Order:
    """Diameters and thicknesses of a plating job, with what to mind.

    Args:
        finished: Diameter at the end, mm at 20 °C.
        thickness: Chromium per side at the end, mm.
        stock: Chromium per side to grind off, mm.
        runout: Total indicated runout between the stripped and the ground surface, mm.
        least_wanted: Thickness per side that must be left everywhere, mm.
        hardness: Of the base, HRC, if known.
        strength: Tensile strength of the base, MPa, if known.
        limits: The shop's limits.

    Raises:
        CannotBe: a number is missing, negative, or the part would be plated away to nothing.
    """
    for name, number in (("finished diameter", finished), ("thickness", thickness), ("stock", stock)):
        if not isfinite(number) or number <= 0.0:
            raise NotPossible(message("plate.not-over-0", what=name, came=thick(number)))
    if not isfinite(runout) or runout < 0.0:
        raise NotPossible(message("plate.below-0", what="runout", came=thick(runout)))
    strip = finished - 2.0 * thickness
    if strip <= 0.0:
        raise NotPossible(message("plate.nothing-left", thickness=thick(thickness), finished=thick(finished)))
    least = thickness - runout / 2.0
    return Order(
        finished=finished,
        thickness=thickness,
        stock=stock,
        strip=strip,
        plated=finished + 2.0 * stock,
        deposit=thickness + stock,
        least=least,
        cautions=(
            *_of_thickness(thickness, stock, least, least_wanted, limits),
            *of_hardness(hardness, limits, strength),
            caution("cracks after grinding"),
            *_of_surface(limits),
            caution("hexavalent chromium"),
        ),
    )


def thickness_between(least: float, most: float, runout: float) -> float:
    """Finished thickness per side, mm, in the middle of what *least*, *most* and the runout allow.

    Raises:
        CannotBe: the runout eats all of what lies between least and most.
    """
    low, high = least + runout / 2.0, most - runout / 2.0
    if not 0.0 < low <= high + _NANOMETRE:
        figures = {"least": least, "most": most, "runout": runout, "low": low, "high": high}
        raise NotPossible(message("plate.not-held", **{name: thick(mm) for name, mm in figures.items()}))
    return (low + high) / 2.0


def stock_per_side(*, taper: float, spring: float, margin: float, times_taper: float = 2.0) -> float:
    """Grinding stock per side, mm, for what is still to be straightened (common practice, no source).

    Args:
        taper: Taper to be expected at first, mm on diameter.
        spring: What the machine takes off by itself after infeed stops, mm on diameter.
        margin: For heat and a last look, mm on diameter.
        times_taper: Stock to keep for each unit of taper.
    """
    return (times_taper * abs(taper) + spring + margin) / 2.0


def thickness_from(plated: float, stripped: float) -> float:
    """Thickness per side, mm, from the diameters after and before plating."""
    return (plated - stripped) / 2.0


def of_hardness(hardness: float | None, limits: ChromeLimits, strength: float | None = None) -> list[Caution]:
    """What a strong base needs before and after plating; an unknown hardness is said, not passed over."""
    found = heat_treatment(strength, hardness)
    if found is None:
        text = (
            f"Neither hardness nor strength of the base is known: from {BEGINS:g} MPa, about "
            f"{HRC_OF[0][0]:g} HRC, it is stress-relieved before plating and baked within {BAKE_WITHIN:g} h "
            f"after it, {BAKE_HOURS[0][1]:g} h at least and longer with strength. Measure it first."
        )
        return [Caution("hardness not known", text, BAKE_SOURCE, "published")]
    said = []
    if found.relief is not None and found.bake is not None:
        said.append(Caution("stress relief", _relief_text(found), found.relief.source, found.relief.basis))
        said.append(Caution("bake", _bake_text(found), found.bake.source, found.bake.basis))
    if hardness is not None and hardness >= limits.repair_hardness.value:
        text = f"Base of {hardness:g} HRC: only by the design authority's word; a repair needs an evaluation."
        said.append(
            Caution("very hard base", text, limits.repair_hardness.source, limits.repair_hardness.basis)
        )
    return said


def _relief_text(found: HeatTreatment) -> str:
    relief = found.relief
    return (
        ""
        if relief is None
        else f"Base of about {found.strength:.0f} MPa{_by(found)}: stress-relieve it before "
        f"plating where it was "
        f"ground, machined or straightened after hardening, {relief.hours:g} h at least at "
        f"{relief.coolest:g} to "
        f"{relief.hottest:g} °C, and never above its own temper; the plater and the standard set the "
        f"treatment."
    )


def _bake_text(found: HeatTreatment) -> str:
    bake = found.bake
    return (
        ""
        if bake is None
        else f"Base of about {found.strength:.0f} MPa{_by(found)}: bake within "
        f"{found.bake_within:g} h of plating, "
        f"{bake.hours:g} h at least at {bake.coolest:g} to {bake.hottest:g} °C, before any grinding; "
        f"that is a "
        "floor, the standard and the plater set the time."
    )


def _by(found: HeatTreatment) -> str:
    return ", by its hardness" if found.from_hardness else ""


def deposition_rate(current_density: float, efficiency: float) -> float:
    """Rate of deposition, mm per hour: ``J eta M / (6 F rho)`` (Faraday's law, from hexavalent chromium).

    Args:
        current_density: J, A/m2.
        efficiency: Share of the current that deposits metal, 0.13 to 0.22 by bath.
    """
    molar_mass, density = 51.996e-3, 7100.0
    return current_density * efficiency * molar_mass / (6.0 * FARADAY * density) * 1000.0 * 3600.0


def _of_thickness(
    thickness: float, stock: float, least: float, least_wanted: float, limits: ChromeLimits
) -> list[Caution]:
    deposit, found = thickness + stock, []
    text: Sentence
    if least <= 0.0:
        text = message("plate.through", least=thick(least))
        found.append(Caution("ground through", text, "geometry", "published"))
    elif least < least_wanted - _NANOMETRE:
        text = message("plate.under", least=thick(least), wanted=thick(least_wanted))
        found.append(Caution("under the least wanted", text, "the job sheet", "common practice, no source"))
    if least < limits.thinnest.value - _NANOMETRE:
        text = message("plate.thin", least=thick(least), limit=thick(limits.thinnest.value))
        found.append(Caution("too thin", text, limits.thinnest.source, limits.thinnest.basis))
    elif least < limits.salvage_least.value - _NANOMETRE:
        text = message("plate.salvage", least=thick(least), limit=thick(limits.salvage_least.value))
        found.append(
            Caution("thin for salvage", text, limits.salvage_least.source, limits.salvage_least.basis)
        )
    if deposit > limits.thickest.value + _NANOMETRE:
        text = message("plate.thick", deposit=thick(deposit), limit=thick(limits.thickest.value))
        found.append(Caution("too thick", text, limits.thickest.source, limits.thickest.basis))
    return [*found, *_of_stock(stock, limits)]


def _of_stock(stock: float, limits: ChromeLimits) -> list[Caution]:
    low, high = limits.stock_least, limits.stock_most
    if stock < low.value - _NANOMETRE:
        text = message("plate.little", stock=thick(stock), limit=thick(low.value))
        return [Caution("little stock", text, low.source, low.basis)]
    if stock > high.value + _NANOMETRE:
        text = message("plate.much", stock=thick(stock), limit=thick(high.value))
        return [Caution("much stock", text, high.source, high.basis)]
    return []


def _of_surface(limits: ChromeLimits) -> list[Caution]:
    edge, finish, deepest = limits.edge_radius, limits.base_finish, limits.deepest_pass
    return [
        Caution(
            "edges",
            message("plate.edges", radius=thick(edge.value)),
            edge.source,
            edge.basis,
        ),
        Caution(
            "base finish",
            message("plate.finish", finish=Length(finish.value / 1000.0, "roughness")),
            finish.source,
            finish.basis,
        ),
        Caution(
            "light passes",
            message("plate.passes", deepest=thick(deepest.value)),
            deepest.source,
            deepest.basis,
        ),
    ]
