"""Which adapters are plugged in, and the one a person chose."""

from bus import adapter
from bus.adapter import Adapter, chosen, found, plugged_in


def machine(tmp_path, *paths):
    for path in paths:
        (tmp_path / path).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / path).touch()
    return tmp_path


def test_a_network_interface_comes_before_a_serial_line_and_each_device_once(tmp_path):
    root = machine(tmp_path, "sys/class/net/vcan1", "sys/class/net/can0", "sys/class/net/eth0", "dev/ttyACM0")
    (root / "dev/serial/by-id").mkdir(parents=True)
    (root / "dev/serial/by-id/usb-some-0").symlink_to("../../ttyACM0")
    machine(tmp_path, "dev/ttyUSB3")
    assert [one.words for one in found(root)] == [
        "socketcan on can0",
        "socketcan on vcan1",
        f"slcan on {root}/dev/serial/by-id/usb-some-0",
        f"slcan on {root}/dev/ttyUSB3",
    ]


def test_nothing_is_plugged_in(tmp_path):
    assert found(tmp_path) == []


def test_the_one_named_goes_before_what_is_found_and_a_bit_rate_is_kept(monkeypatch):
    monkeypatch.setattr(adapter, "found", lambda: [Adapter("socketcan", "can0")])
    assert plugged_in(Adapter("slcan", "/dev/x", 1)) == Adapter("slcan", "/dev/x", 1)
    assert plugged_in(Adapter(bitrate=250_000)) == Adapter("socketcan", "can0", 250_000)
    monkeypatch.setattr(adapter, "found", list)
    assert plugged_in(Adapter()) is None


def test_the_chosen_one_is_taken_while_it_is_there_else_any(monkeypatch):
    here = Adapter("slcan", "/dev/ttyACM0")
    monkeypatch.setattr(adapter, "found", lambda: [Adapter("socketcan", "can0"), here])
    assert chosen(here.words) == here
    assert chosen("slcan on /dev/gone") == Adapter()
    assert chosen("") == Adapter()
