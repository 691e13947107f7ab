"""Ports and Bluetooth devices in sight: what is known of each, and how a sheet names it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from msgspec import Struct

from capture.sheet.job import Gauge
from capture.state.session import UNHEARD, State
from dashboard.text.screen import word

KINDS: Final = ("serial", "ble")
"""Links of a sheet that a look finds the other end of."""


class GaugeAddress(Struct, frozen=True):
    """One way to a gauge that a look has found; the page names it by its key and by nothing else."""

    key: str
    link: Mapping[str, Any]
    """As the sheet has it."""
    opens: str
    """What the command line opens."""
    title: str
    about: str
    state: str = ""
    """Free, or whose it is, in words."""
    gauge: str = ""
    """Its gauge on the sheet of what is shown."""
    busy: bool = False
    """Whether the running capture has it open."""
    names: frozenset[str] = frozenset()
    """All that a sheet may call it."""

    @property
    def kind(self) -> str:
        """Which kind of link it is."""
        return next(kind for kind in KINDS if kind in self.link)


def ways(
    found: Mapping[str, Any],
    own: Mapping[str, str],
    state: State | None,
    *,
    live: bool,
    look: str,
) -> list[GaugeAddress]:
    """What a look has *found* as ways to gauges, each with what is known of it.

    *own* has the devices that the sheet's own names of ports stand for now; *live* tells whether the
    capture of *state* is running; *look* begins every key, so that no key of an older look fits.
    """
    listed = [_port(port, found["ports"]) for port in found["ports"]]
    seen = {way.opens for way in listed}
    listed += [_named(spec, device) for spec, device in own.items() if device not in seen]
    listed += [_device(device) for device in found["bluetooth"]]
    gauges = () if state is None else state.job.gauges
    return [
        _known(way, f"{look}-{number}", gauges, own, state, live=live) for number, way in enumerate(listed)
    ]


def _port(port: Mapping[str, str], every: Sequence[Mapping[str, str]]) -> GaugeAddress:
    identity = port["identity"]
    if identity and sum(other["identity"] == identity for other in every) > 1:
        # Two of one kind without numbers of their own: the socket tells them apart.
        identity = f"{identity}:{port['location']}" if port["location"] else ""
    about = "" if port["description"] in {"", "n/a"} else port["description"]
    names = frozenset({port["device"], port["identity"], identity} - {""})
    return GaugeAddress(
        "", {"serial": identity or port["device"]}, port["device"], port["device"], about, names=names
    )


def _named(spec: str, device: str) -> GaugeAddress:
    return GaugeAddress(
        "", {"serial": spec}, device, spec, word("sight.named"), names=frozenset({spec, device})
    )


def _device(device: Mapping[str, Any]) -> GaugeAddress:
    parts = [word("sight.signal", signal=device["signal_dbm"])]
    if device["battery"] is not None:
        parts.append(word("sight.battery", level=f"{device['battery']:.0f}"))
    parts += device["services"]
    identity = device["identity"]
    names = frozenset({identity, device["name"]} - {""})
    title = device["name"] or identity
    about = ", ".join([identity, *parts] if device["name"] else parts)
    return GaugeAddress("", {"ble": identity}, identity, title, about, names=names)


def _known(
    way: GaugeAddress,
    key: str,
    gauges: Iterable[Gauge],
    own: Mapping[str, str],
    state: State | None,
    *,
    live: bool,
) -> GaugeAddress:
    names = way.names | {spec for spec, device in own.items() if device == way.opens}
    whose = [gauge.name for gauge in gauges if fits(gauge.link, way.kind, names)]
    busy = live and state is not None and any(state.health.get(name, UNHEARD).up for name in whose)
    said = word("sight.free")
    if whose:
        said = word("sight.busy" if busy else "sight.on-sheet", gauge=", ".join(whose))
    return GaugeAddress(
        key, way.link, way.opens, way.title, way.about, said, ", ".join(whose), busy=busy, names=names
    )


def fits(link: Mapping[str, Any], kind: str, names: Iterable[str]) -> bool:
    """Whether a link of a sheet is the way of that kind and of one of these *names*."""
    named = str(link.get(kind, ""))
    return bool(named) and named.casefold() in {name.casefold() for name in names}


def shown(listed: Sequence[GaugeAddress], trouble: str) -> dict[str, Any]:
    """What the page shows of a look."""
    wired = sum(way.kind == "serial" for way in listed)
    rows = [
        {
            "key": way.key,
            "link": way.kind,
            "address": way.link[way.kind],
            "kind": word(f"sight.{way.kind}"),
            "title": way.title,
            "about": way.about,
            "state": way.state,
            "busy": way.busy,
            "air": way.kind == "ble",
            "gauge": way.gauge,
        }
        for way in listed
    ]
    said = word("sight.said", ports=_count(wired, "port"), devices=_count(len(listed) - wired, "device"))
    check = []
    if not wired:
        check += [word(f"sight.check-port-{number}") for number in (1, 2, 3)]
    if wired == len(listed):
        check.append(trouble or word("sight.check-air"))
    return {"ok": True, "ways": rows, "said": said, "check": check}


def _count(number: int, what: str) -> str:
    return word(f"sight.{what}" if number == 1 else f"sight.{what}s", number=number)
