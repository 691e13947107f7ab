from __future__ import annotations

import os

import pytest

from capture.links.ports import Port, device_fault, device_of, port_fault, ports

THERE = [
    Port("/dev/ttyS0", "n/a"),
    Port("/dev/ttyUSB0", "cable", "usb:0403:6001:A1", "1-1.2"),
    Port("/dev/ttyUSB1", "cable", "usb:0403:6001:A2", "1-1.3"),
    Port("/dev/ttyACM0", "gauge", "usb:1234:00AB", "1-1.4"),
    Port("/dev/ttyACM1", "gauge", "usb:1234:00AC", "1-1.5"),
]


@pytest.mark.parametrize(
    ("spec", "device"),
    [
        ("/dev/ttyS0", "/dev/ttyS0"),
        ("COM3", "COM3"),
        ("socket://localhost:4001", "socket://localhost:4001"),
        ("usb:0403:6001:A2", "/dev/ttyUSB1"),
        ("usb:403:6001:1-1.2", "/dev/ttyUSB0"),
        ("usb:1234:ab", "/dev/ttyACM0"),
    ],
)
def test_a_port_is_found_by_name_number_serial_number_or_socket(spec, device):
    assert device_of(spec, THERE) == device


@pytest.mark.parametrize(
    ("spec", "sentence"),
    [
        ("usb:0403:6001", r"fits 2 ports.*usb:0403:6001:A1 at 1-1.2 \(/dev/ttyUSB0\), usb:0403:6001:A2"),
        ("usb:0403:6001:A3", r"not plugged in; there is: usb:0403:6001:A1"),
        ("usb:9999:0001", "not plugged in"),
        ("usb:0403", "usb:VID:PID or usb:VID:PID:SERIAL was due"),
        ("usb:cafe:babe:", "was due"),
        ("usb:00403:6001", "was due"),
    ],
)
def test_unless_exactly_one_fits_the_error_says_what_is_there(spec, sentence):
    with pytest.raises(OSError, match=sentence):
        device_of(spec, THERE)


def test_with_no_usb_port_at_all_the_error_says_so():
    with pytest.raises(OSError, match="there is: no USB port"):
        device_of("usb:0403:6001", THERE[:1])


def test_the_ports_of_this_machine_come_in_order_of_name():
    devices = [port.device for port in ports()]

    assert devices == sorted(devices)


@pytest.mark.parametrize(
    "spec",
    [
        "spy:///dev/ttyUSB0?file=/tmp/victim",
        "SPY:///dev/ttyUSB0",
        "loop://",
        "alt://COM3?class=x",
        "hwgrep://.*",
        "socket://",
        "socket://host",
        "socket://a:1/x",
        "",
        "/dev/tty\0USB0",
    ],
)
def test_what_is_no_address_of_a_port_is_refused(spec: str) -> None:
    """`spy://` of pyserial writes a log over any file (pyserial, URL handlers)."""
    assert "was due" in port_fault(spec)


@pytest.mark.parametrize(
    "spec", ["/dev/ttyUSB0", "COM3", "usb:0403:6001", "socket://10.0.0.7:4001", "rfc2217://box.local:2217"]
)
def test_devices_usb_and_two_kinds_of_network_address_are_ports(spec: str) -> None:
    assert port_fault(spec) == ""


@pytest.mark.parametrize("number", ["0", "65536", "99999"])
def test_a_number_that_no_port_of_the_network_has_is_refused_as_such(number: str) -> None:
    """Ports are 1 to 65535 (RFC 9293, 3.1); pyserial answered with the names of its log's levels."""
    due = f"the port number is {number}, 1 to 65535 was due"

    assert port_fault(f"socket://10.0.0.7:{number}").endswith(due)
    assert port_fault(f"rfc2217://box.local:{number}?poll_modem").endswith(due)


@pytest.mark.skipif(os.name == "nt", reason="pipes with names are POSIX")
def test_a_pipe_or_a_file_is_no_port(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "file").write_bytes(b"")

    assert "no serial port" in device_fault(str(tmp_path / "pipe"))
    assert "no serial port" in device_fault(str(tmp_path / "file"))
    assert device_fault("/dev/null") == ""
    assert device_fault(str(tmp_path / "nothing")) == ""
    assert device_fault("socket://127.0.0.1:9") == ""
