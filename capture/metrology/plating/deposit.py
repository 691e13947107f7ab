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

FARADAY = 96485.33212
"""C/mol."""
_NANOMETRE = 1e-6
"""Sums of decimals may miss a limit by a hair that nobody can measure, mm."""
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
    relief_hardness: ShopSetting = ShopSetting(40.0, "HRC", _OVERHAUL, "published")
    relief_temperature: ShopSetting = ShopSetting(149.0, "degC", _OVERHAUL, "published")
    relief_hours: ShopSetting = ShopSetting(2.0, "h", _OVERHAUL, "published")
    bake_within: ShopSetting = ShopSetting(4.0, "h", _OVERHAUL, "published")
    bake_coolest: ShopSetting = ShopSetting(177.0, "degC", _OVERHAUL, "published")
    bake_hottest: ShopSetting = ShopSetting(204.0, "degC", _OVERHAUL, "published")
    bake_hours: ShopSetting = ShopSetting(
        3.0, "h", f"{_OVERHAUL}; ASTM B850 asks more of harder steels", "published"
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
            *of_hardness(hardness, limits),
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


def of_hardness(hardness: float | None, limits: ChromeLimits) -> list[Caution]:
    """What a hard base needs before and after plating; unknown hardness is said, not passed over."""
    bake = (
        f"bake within {limits.bake_within.value:g} h of plating, {limits.bake_coolest.value:g} to "
        f"{limits.bake_hottest.value:g} °C, {limits.bake_hours.value:g} h at least; the standard and the "
        "plater set the time, and harder steels need much longer"
    )
    relief = (
        f"stress-relieve before plating at {limits.relief_temperature.value:g} °C for "
        f"{limits.relief_hours.value:g} h"
    )
    limit = limits.relief_hardness
    if hardness is None:
        text = f"Hardness of the base is not known: from {limit.value:g} HRC up, {relief} and {bake}."
        return [Caution("hardness not known", text, limit.source, limit.basis)]
    found = []
    if hardness >= limit.value:
        text = f"Base of {hardness:g} HRC: {relief}; {bake}."
        found.append(Caution("bake", text, limits.bake_hours.source, limits.bake_hours.basis))
    if hardness >= limits.repair_hardness.value:
        text = f"Base of {hardness:g} HRC: only by the design authority's word; a repair needs an evaluation."
        found.append(
            Caution("very hard base", text, limits.repair_hardness.source, limits.repair_hardness.basis)
        )
    return found


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
