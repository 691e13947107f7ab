from __future__ import annotations

import asyncio

import pytest

from capture.links.bluetooth.radio import FoundDevice, Radio, find, rows, search


def device(bluez, last: int, name: str, **more):
    return bluez.Peripheral(f"C0:00:00:00:00:{last:02X}", name, {}, **more)


@pytest.mark.bluetooth
def test_devices_in_sight_are_listed_nearest_first(on_air, bluez):
    near = device(bluez, 4, "Sleeve mike", signal=-41, uuids=(bluez.sig(0x185A), bluez.sig(0x180F)))
    far = device(bluez, 2, "Bore gauge", signal=-88, service_data={bluez.sig(0x180F): b"\x57"})
    gone = device(bluez, 3, "Depth gauge", in_range=False)

    async def script(service):
        service.air += [far, near, gone]
        return await search(0.5)

    assert on_air(script) == [
        FoundDevice(
            "Sleeve mike",
            "C0:00:00:00:00:04",
            -41,
            ("Battery Service (180F)", "Industrial Measurement Device (185A)"),
        ),
        FoundDevice("Bore gauge", "C0:00:00:00:00:02", -88, (), 87.0),
    ]


@pytest.mark.bluetooth
def test_a_hostile_name_is_listed_harmlessly_and_can_be_written_on_the_sheet(on_air, bluez):
    hostile = device(bluez, 1, "\x1b]0;owned\x07[red]mi\u202eke[/red]\n" + "x" * 200)

    async def script(service):
        service.air.append(hostile)
        (found,) = await search(0.5)
        return found, await find(Radio(), found.name, 5.0)

    found, again = on_air(script)

    assert found.name.isprintable()
    assert found.name.startswith("]0;owned[red]mike[/red] xxx")
    assert len(found.name) <= 48
    assert again.address == hostile.address


@pytest.mark.bluetooth
def test_an_address_may_be_written_in_small_letters(on_air, bluez):
    async def script(service):
        service.air.append(device(bluez, 0xAB, "mike"))
        return await find(Radio(), "c0:00:00:00:00:ab", 5.0)

    assert on_air(script).address == "C0:00:00:00:00:AB"


@pytest.mark.bluetooth
def test_two_devices_of_one_name_are_not_guessed_between(on_air, bluez):
    first, second = (device(bluez, last, "mike", in_range=last == 1) for last in (1, 2))

    async def script(service):
        service.air += [first, second]
        asyncio.get_running_loop().call_later(0.2, setattr, second, "in_range", True)
        with pytest.raises(OSError, match="2 devices of that name") as refusal:
            await find(Radio(), "mike", 5.0)
        return str(refusal.value)

    refusal = on_air(script)

    assert "(C0:00:00:00:00:01, C0:00:00:00:00:02): write the address of yours on the sheet" in refusal


@pytest.mark.bluetooth
@pytest.mark.parametrize(
    ("breaks", "said"),
    [
        (lambda service: service.power(on=False), "Bluetooth is switched off on this computer: switch it on"),
        (lambda service: service.unplug(), "this computer has no Bluetooth adapter: plug one in"),
        (lambda service: service.bus.disconnect(), "the system's Bluetooth service is not running"),
    ],
    ids=["switched off", "no adapter", "no service"],
)
def test_searching_without_a_radio_says_what_is_wrong(on_air, breaks, said):
    async def script(service):
        breaks(service)
        with pytest.raises(OSError, match=f"^Bluetooth: {said}"):
            await search(0.1)

    on_air(script)


@pytest.mark.bluetooth
def test_one_scan_serves_all_who_look_and_ends_with_the_last(on_air, bluez):
    async def script(service):
        service.air.append(device(bluez, 1, "mike"))
        radio = Radio()
        async with radio.sightings() as first:
            async with radio.sightings() as second:
                for reader in (first, second):
                    assert (await reader.get())[0].name == "mike"
                assert len(service.scanning) == 1
            assert len(service.scanning) == 1
        return service.scanning

    assert not on_air(script)


@pytest.mark.bluetooth
def test_the_scan_rests_while_somebody_connects_and_goes_on_afterwards(on_air, bluez):
    async def script(service):
        radio = Radio()
        async with radio.sightings() as reader:
            async with radio.quiet():
                assert not service.scanning
            service.air.append(device(bluez, 1, "mike"))
            return (await reader.get())[0].name

    assert on_air(script) == "mike"


@pytest.mark.bluetooth
def test_a_newcomer_wakes_a_scan_that_ended_without_a_word(on_air, bluez):
    """An adapter that was switched off and on scans no more, and says nothing of it."""

    async def script(service):
        radio = Radio()
        async with radio.sightings():
            service.power(on=False)
            service.power(on=True)
            service.air.append(device(bluez, 1, "mike"))
            await asyncio.sleep(0.05)
            async with radio.sightings() as reader:
                return (await reader.get())[0].name

    assert on_air(script) == "mike"


def test_a_table_of_devices_says_what_to_write_on_the_sheet():
    quiet = FoundDevice("", "C0:00:00:00:00:02", -88)
    told = FoundDevice("Sleeve mike", "C0:00:00:00:00:01", -41, ("Battery Service (180F)",), 87.0)

    assert rows([told, quiet]) == [
        ("Sleeve mike", 'ble = "C0:00:00:00:00:01"', "-41 dBm", "87 %", "Battery Service (180F)"),
        ("(no name)", 'ble = "C0:00:00:00:00:02"', "-88 dBm", "", ""),
    ]
