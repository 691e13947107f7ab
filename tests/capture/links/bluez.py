"""A stand-in for the Bluetooth service of Linux: the name org.bluez on a private message bus.

bleak's own Linux backend talks to it, so scans, connections, notifications and every failure
are tested without a radio. Error names and the order of signals are those that BlueZ
documents (its doc/org.bluez.*.rst); only what bleak and our links use is there.
"""

from __future__ import annotations

import asyncio
import os
import subprocess
import tempfile
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Self

from dbus_fast import Message, MessageFlag, MessageType, Variant
from dbus_fast.aio import MessageBus

PROPERTIES, OBJECTS = "org.freedesktop.DBus.Properties", "org.freedesktop.DBus.ObjectManager"
ADAPTER, DEVICE = "org.bluez.Adapter1", "org.bluez.Device1"
SERVICE, CHARACTERISTIC, DESCRIPTOR = (
    f"org.bluez.Gatt{x}1" for x in ("Service", "Characteristic", "Descriptor")
)

BUS_SETTINGS = """<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd"><busconfig><type>session</type>
<listen>unix:path={socket}</listen><auth>EXTERNAL</auth><policy context="default"><allow user="*"/>
<allow own="*"/><allow send_type="method_call"/><allow send_type="signal"/>
<allow send_requested_reply="true"/><allow receive_type="method_call"/><allow receive_type="signal"/>
<allow receive_type="method_return"/><allow receive_type="error"/></policy></busconfig>"""


def sig(number: int) -> str:
    """The UUID of a number that the Bluetooth SIG gave out."""
    return f"{number:08x}-0000-1000-8000-00805f9b34fb"


class PrivateBus:
    """A message bus of the tests' own, in the place of the system's."""

    def __enter__(self) -> Self:
        self.folder = tempfile.TemporaryDirectory(prefix="bus")
        self.before = os.environ.get("DBUS_SYSTEM_BUS_ADDRESS")
        self.start()
        return self

    def start(self) -> None:
        """The bus starts, where it was before."""
        Path(self.folder.name, "bus").unlink(missing_ok=True)
        settings = Path(self.folder.name, "bus.conf")
        settings.write_text(BUS_SETTINGS.format(socket=Path(self.folder.name, "bus")), encoding="utf-8")
        command = ["dbus-daemon", f"--config-file={settings}", "--nofork", "--nopidfile", "--print-address=1"]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        os.environ["DBUS_SYSTEM_BUS_ADDRESS"] = self.process.stdout.readline().strip()

    def kill(self) -> None:
        """The bus itself dies."""
        self.process.kill()
        self.process.wait()
        self.process.stdout.close()

    def __exit__(self, *_: object) -> None:
        self.kill()
        self.folder.cleanup()
        del os.environ["DBUS_SYSTEM_BUS_ADDRESS"]
        if self.before is not None:
            os.environ["DBUS_SYSTEM_BUS_ADDRESS"] = self.before


class Refused(Exception):
    """An error that the service answers with."""

    def __init__(self, name: str, text: str = "") -> None:
        super().__init__(name, text)
        self.name, self.text = f"org.bluez.Error.{name}", text


@dataclass(eq=False)
class Characteristic:
    """One value of an instrument. *refuses* is raised at a read, a write or a subscription."""

    uuid: str
    flags: tuple[str, ...] = ("read", "notify")
    value: bytes = b""
    descriptors: dict[int, bytes] = field(default_factory=dict)
    refuses: Refused | None = None
    on_write: Any = None
    path: str = ""
    listeners: set[str] = field(default_factory=set)
    written: list[bytes] = field(default_factory=list)


@dataclass(eq=False)
class Peripheral:
    """An instrument in the air. *faults* are raised at the next connections, one each."""

    address: str
    name: str
    services: dict[str, list[Characteristic]]
    uuids: tuple[str, ...] = ()
    service_data: dict[str, bytes] = field(default_factory=dict)
    signal: int = -50
    in_range: bool = True
    faults: list[Refused] = field(default_factory=list)
    resolves: bool = True
    """Whether its services are ever found after connecting."""
    connections: int = 0


class Bluez:
    """The service itself; a fresh one forgets all devices."""

    def __init__(self) -> None:
        self.adapter = "/org/bluez/hci0"
        self.air: list[Peripheral] = []
        self.tasks: set[asyncio.Task[None]] = set()
        self.scans = 0
        self.most_scanning = 0
        """Scans that ran at once while an instrument was connected to."""
        self.connected = asyncio.Event()
        self.unanswered: bool | set[str | None] = False

    # What a test does to it.

    async def start(self) -> None:
        """The service starts: it knows its adapter and nothing else."""
        self.objects: dict[str, dict[str, dict[str, Variant]]] = {}
        self.known: dict[str, Peripheral] = {}
        self.attributes: dict[str, tuple[Characteristic, int]] = {}
        self.scanning: set[str] = set()
        self.bus = await MessageBus(bus_address=os.environ["DBUS_SYSTEM_BUS_ADDRESS"]).connect()
        self.bus.add_message_handler(self._handle)
        await self.bus.request_name("org.bluez")
        await self._watch_clients()
        self._add("/org/bluez", {"org.bluez.AgentManager1": {}})
        self.plug()
        self._spawn(self._beacon())

    async def stop(self) -> None:
        """The service dies without a word, and the connections with it; once more does no harm."""
        for task in self.tasks:
            task.cancel()
        self.bus.disconnect()
        with suppress(EOFError, OSError):
            await self.bus.wait_for_disconnect()

    def publish(self, to: bool | str) -> None:
        """The service takes calls and answers none: all, none, or the one of that name and its undoing."""
        undoing = {"Connect": "Disconnect"}
        self.unanswered = {to, undoing.get(to)} if isinstance(to, str) else to

    def plug(self) -> None:
        """An adapter is plugged in."""
        properties = {
            "Address": Variant("s", "02:00:00:00:00:01"),
            "Name": Variant("s", "stand-in"),
            "Alias": Variant("s", "stand-in"),
            "Powered": Variant("b", True),
            "Discovering": Variant("b", False),
            "Roles": Variant("as", ["central"]),
            "UUIDs": Variant("as", []),
        }
        self._add(self.adapter, {ADAPTER: properties})

    def unplug(self) -> None:
        """The adapter is pulled out: its objects go, and "Connected" is never said to be false."""
        for path in sorted(self.objects, reverse=True):
            if path.startswith(self.adapter):
                self._remove(path)
        self.scanning.clear()

    def power(self, *, on: bool) -> None:
        """The adapter is switched off or on; what was connected is lost, scans end without a word."""
        for path, peripheral in self.known.items():
            if not on and self._connected(path):
                self.lose(peripheral)
        if not on:
            self.scanning.clear()
        self._set(self.adapter, ADAPTER, Powered=Variant("b", on), Discovering=Variant("b", False))

    def lose(self, peripheral: Peripheral) -> None:
        """The radio link is lost: out of range, or switched off."""
        path = self.path(peripheral)
        for characteristics in peripheral.services.values():
            for characteristic in characteristics:
                characteristic.listeners.clear()
        self._set(path, DEVICE, ServicesResolved=Variant("b", False))
        self._set(path, DEVICE, Connected=Variant("b", False))

    def forget(self, peripheral: Peripheral) -> None:
        """The system forgets a device, and all its objects go."""
        for path in sorted(self.objects, reverse=True):
            if path.startswith(self.path(peripheral)):
                self._remove(path)

    def notify(self, characteristic: Characteristic, value: bytes) -> None:
        """The instrument sends a value of its own accord."""
        characteristic.value = value
        if characteristic.listeners and characteristic.path in self.objects:
            self._set(characteristic.path, CHARACTERISTIC, Value=Variant("ay", value))

    def path(self, peripheral: Peripheral) -> str:
        return f"{self.adapter}/dev_{peripheral.address.replace(':', '_')}"

    # The tree of objects, and the signals that tell of its changes.

    def _signal(self, path: str, interface: str, member: str, signature: str, body: list[Any]) -> None:
        self.bus.send(Message.new_signal(path, interface, member, signature, body))

    def _add(self, path: str, interfaces: dict[str, dict[str, Variant]]) -> None:
        self.objects.setdefault(path, {}).update(interfaces)
        self._signal("/", OBJECTS, "InterfacesAdded", "oa{sa{sv}}", [path, interfaces])

    def _remove(self, path: str) -> None:
        self._signal("/", OBJECTS, "InterfacesRemoved", "oas", [path, list(self.objects.pop(path))])

    def _set(self, path: str, interface: str, **properties: Variant) -> None:
        self.objects[path][interface].update(properties)
        self._signal(path, PROPERTIES, "PropertiesChanged", "sa{sv}as", [interface, properties, []])

    def _get(self, path: str, interface: str, name: str) -> Any:
        return self.objects.get(path, {}).get(interface, {}).get(name, Variant("b", False)).value

    def _connected(self, path: str) -> bool:
        return bool(self._get(path, DEVICE, "Connected"))

    async def _beacon(self) -> None:
        """Instruments advertise until they are connected; nobody hears it but during a scan."""
        while True:
            for peripheral in self.air:
                if self.scanning and peripheral.in_range and not self._connected(self.path(peripheral)):
                    self._advertise(peripheral)
            await asyncio.sleep(0.01)

    def _advertise(self, peripheral: Peripheral) -> None:
        path = self.path(peripheral)
        heard = {
            "RSSI": Variant("n", peripheral.signal),
            "ServiceData": Variant(
                "a{sv}", {uuid: Variant("ay", data) for uuid, data in peripheral.service_data.items()}
            ),
        }
        if path in self.objects:
            self._set(path, DEVICE, **heard)
            return
        self.known[path] = peripheral
        flags = ("Paired", "Bonded", "Trusted", "Blocked", "Connected", "ServicesResolved", "LegacyPairing")
        properties = {
            "Address": Variant("s", peripheral.address),
            "AddressType": Variant("s", "public"),
            "Alias": Variant("s", peripheral.name),
            "Name": Variant("s", peripheral.name),
            "Adapter": Variant("o", self.adapter),
            "UUIDs": Variant("as", list(peripheral.uuids)),
            **{flag: Variant("b", False) for flag in flags},
            **heard,
        }
        self._add(path, {DEVICE: properties})

    def _export(self, peripheral: Peripheral) -> None:
        handle, device = 1, self.path(peripheral)
        for uuid, characteristics in peripheral.services.items():
            service = f"{device}/service{handle:04x}"
            described = {
                "UUID": Variant("s", uuid),
                "Primary": Variant("b", True),
                "Device": Variant("o", device),
            }
            self._add(service, {SERVICE: described})
            for characteristic in characteristics:
                handle += 2
                characteristic.path = path = f"{service}/char{handle:04x}"
                properties = {
                    "UUID": Variant("s", characteristic.uuid),
                    "Service": Variant("o", service),
                    "Flags": Variant("as", list(characteristic.flags)),
                    "Value": Variant("ay", b""),
                    "MTU": Variant("q", 247),
                }
                self.attributes[path] = characteristic, 0
                self._add(path, {CHARACTERISTIC: properties})
                for number in characteristic.descriptors:
                    handle += 1
                    self.attributes[f"{path}/desc{handle:04x}"] = characteristic, number
                    told = {"UUID": Variant("s", sig(number)), "Characteristic": Variant("o", path)}
                    self._add(f"{path}/desc{handle:04x}", {DESCRIPTOR: told})
            handle += 1

    # Calls that come in.

    async def _watch_clients(self) -> None:
        rule = "type='signal',sender='org.freedesktop.DBus',member='NameOwnerChanged'"
        bus = "org.freedesktop.DBus"
        call = Message(bus, "/org/freedesktop/DBus", bus, "AddMatch", signature="s", body=[rule])
        await self.bus.call(call)

    def _handle(self, message: Message) -> bool | None:
        if message.member == "NameOwnerChanged" and not message.body[2]:
            self.scanning.discard(message.body[0])
            for characteristic, _ in self.attributes.values():
                characteristic.listeners.discard(message.body[0])
            return None
        if message.message_type != MessageType.METHOD_CALL or message.destination == self.bus.unique_name:
            return None
        hangs = self.unanswered if isinstance(self.unanswered, bool) else message.member in self.unanswered
        if not hangs:
            self._spawn(self._answer(message))
        return True

    def _spawn(self, work: Any) -> None:
        task = asyncio.ensure_future(work)
        self.tasks.add(task)
        task.add_done_callback(self.tasks.discard)

    async def _answer(self, message: Message) -> None:
        try:
            if message.path != "/" and message.path not in self.objects:
                unknown = "org.freedesktop.DBus.Error.UnknownObject"
                reply = Message.new_error(message, unknown, f"no such object {message.path}")
            else:
                signature, body = await self._do(message)
                reply = Message.new_method_return(message, signature, body)
        except Refused as refused:
            reply = Message.new_error(message, refused.name, refused.text)
        if not message.flags & MessageFlag.NO_REPLY_EXPECTED:
            await self.bus.send(reply)

    async def _do(self, message: Message) -> tuple[str, list[Any]]:
        path, member = message.path, message.member
        match message.interface:
            case "org.freedesktop.DBus.ObjectManager":
                return "a{oa{sa{sv}}}", [self.objects]
            case "org.bluez.Adapter1":
                return self._scan(member, message.sender)
            case "org.bluez.Device1":
                return await self._connect(member, path)
            case "org.bluez.GattCharacteristic1":
                return self._value(member, path, message)
            case "org.bluez.GattDescriptor1" if member == "ReadValue":
                characteristic, number = self.attributes[path]
                return "ay", [characteristic.descriptors[number]]
        raise Refused("NotSupported", member)

    def _scan(self, member: str, sender: str) -> tuple[str, list[Any]]:
        if not self._get(self.adapter, ADAPTER, "Powered"):
            raise Refused("NotReady", "Resource Not Ready")
        if member == "StartDiscovery":
            if sender in self.scanning:
                raise Refused("InProgress", "Operation already in progress")
            self.scanning.add(sender)
            self.scans += 1
        elif member == "StopDiscovery":
            if sender not in self.scanning:
                raise Refused("Failed", "No discovery started")
            self.scanning.discard(sender)
        return "", []

    async def _connect(self, member: str, path: str) -> tuple[str, list[Any]]:
        peripheral = self.known[path]
        if member == "Disconnect":
            self.lose(peripheral)
            return "", []
        peripheral.connections += 1
        if peripheral.faults:
            raise peripheral.faults.pop(0)
        self.most_scanning = max(self.most_scanning, len(self.scanning))
        self._set(path, DEVICE, Connected=Variant("b", True))
        self.connected.set()
        if peripheral.resolves:
            self._export(peripheral)
            # BlueZ lists what it found, and the two services that it keeps to itself.
            uuids = [*peripheral.uuids, *peripheral.services, sig(0x1800), sig(0x1801)]
            self._set(path, DEVICE, UUIDs=Variant("as", uuids))
            self._set(path, DEVICE, ServicesResolved=Variant("b", True))
        return "", []

    def _value(self, member: str, path: str, message: Message) -> tuple[str, list[Any]]:
        characteristic, _ = self.attributes[path]
        if characteristic.refuses:
            raise characteristic.refuses
        match member:
            case "ReadValue" if "read" in characteristic.flags:
                # As BlueZ does: an answer to a read is told to those who listen, too.
                self._set(path, CHARACTERISTIC, Value=Variant("ay", characteristic.value))
                return "ay", [characteristic.value]
            case "WriteValue" if {"write", "write-without-response"} & set(characteristic.flags):
                characteristic.written.append(bytes(message.body[0]))
                if characteristic.on_write:
                    characteristic.on_write(bytes(message.body[0]))
                return "", []
            case "StartNotify" if {"notify", "indicate"} & set(characteristic.flags):
                characteristic.listeners.add(message.sender)
                return "", []
            case "StopNotify":
                characteristic.listeners.discard(message.sender)
                return "", []
        raise Refused(
            "NotPermitted" if member != "StartNotify" else "NotSupported", f"{member} not permitted"
        )
