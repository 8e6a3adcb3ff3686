"""The control socket, the ledger, and the clock of the served craft."""

import json
import os
import socket
import time

import pytest

from simulator.control import Control, ControlServer
from simulator.craft import Craft
from simulator.errors import Forbidden, Misunderstood, SimulatorError
from simulator.ledger import KEEP, Ledger
from simulator.serve import Server


def test_a_conversation_moves_the_craft(serve, wait_until):
    served = serve("--scenario", "idle")
    for request in (
        {"do": "key", "on": True, "level": 80},
        {"do": "throttle", "percent": 30},
        {"do": "reverse", "on": True},
        {"do": "plant", "signal": "CoolantTemperature", "kind": "not_available"},
        {"do": "part", "part": "oil", "value": 0.8},
        {"do": "water", "afloat": True, "waves": 0.5},
    ):
        assert served.control.ask(**request) == {"ok": True}

    def moved():
        values = served.ask("state")["values"]
        return values.get("EngineSpeed", 0) > 3000 and values.get("ReverseSwitch") == "Reverse"

    assert wait_until(moved)
    state = served.ask("state")
    assert state["t"] == pytest.approx(time.monotonic(), abs=0.5)
    assert state["values"]["CoolantTemperature"] == "not_available"
    assert state["values"]["KeyLevel"] == 80
    assert state["planted"] == ["CoolantTemperature"]
    assert state["engine"]["state"] == "Running"
    served.ask("lanyard", pulled=True)
    assert wait_until(lambda: served.ask("state")["engine"]["rev_min"] == 0.0)
    assert served.ask("state")["values"]["Lanyard"] == "Pulled"
    assert served.ask("scenario", name="dock") == {"ok": True}
    assert wait_until(lambda: served.ask("state")["values"].get("Lanyard") == "In place")
    served.ask("start", pressed=True)
    assert wait_until(lambda: served.ask("state")["engine"]["state"] == "Running")
    before = served.ask("sent")
    assert wait_until(lambda: served.ask("sent")["made"] > before["made"])
    assert set(before) == {"sent", "dropped", "made"}
    assert served.ask("quit") == {"ok": True}
    assert served.process.wait(5) == 0
    assert not served.socket.exists()
    assert not served.link.is_symlink()


def test_several_clients_are_served_and_only_the_owner_may_connect(serve):
    served = serve()
    assert served.socket.stat().st_mode & 0o077 == 0
    with Control(served.socket) as one, Control(served.socket) as two:
        one.ask(do="throttle", percent=50)
        assert two.ask(do="state")["scenario"] == "dock"
        one.close()
        assert two.ask(do="state")["scenario"] == "dock"


class Here:
    """A control server in this process, turned by hand."""

    def __init__(self, path, handle):
        self.server = ControlServer(path, handle)
        self.client = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self.client.connect(str(path))
        self.client.setblocking(False)

    def say(self, data):
        self.client.sendall(data)

    def heard(self, count=1):
        text = b""
        until = time.monotonic() + 5
        while text.count(b"\n") < count and time.monotonic() < until:
            self.server.wait(0.01)
            try:
                block = self.client.recv(1 << 20)
            except BlockingIOError:
                continue
            if not block:
                return None
            text += block
        return [json.loads(line) for line in text.splitlines()]

    def close(self):
        self.client.close()
        self.server.close()


@pytest.fixture
def here(tmp_path):
    made = []

    def make(handle):
        made.append(Here(tmp_path / "control", handle))
        return made[-1]

    yield make
    for one in made:
        one.close()


@pytest.fixture
def served_here(here, tmp_path):
    server = Server(Craft(), channel=str(tmp_path / "craft"))
    yield here(server.handle)
    server.close()


@pytest.mark.parametrize(
    "nonsense",
    [
        b"hello",
        b"[1, 2]",
        b"3",
        b"",
        b"{}",
        b'{"do": 5}',
        b'{"do": "fly"}',
        b'{"do": "key"}',
        b'{"do": "key", "on": 1}',
        b'{"do": "throttle", "percent": true}',
        b'{"do": "throttle", "percent": 101}',
        b'{"do": "throttle", "percent": NaN}',
        b'{"do": "throttle", "percent": 10, "force": true}',
        b'{"do": "plant", "signal": "Wind", "kind": "error"}',
        b'{"do": "plant", "signal": "EngineSpeed", "kind": "odd"}',
        b'{"do": "plant", "signal": "EngineSpeed", "kind": "value"}',
        b'{"do": "plant", "signal": "EngineSpeed", "kind": "value", "value": 1e9}',
        b'{"do": "plant", "signal": "EngineSpeed", "kind": "shift", "value": "x"}',
        b'{"do": "plant", "signal": "AliveCounter", "kind": "error"}',
        b'{"do": "plant", "signal": "Lanyard", "kind": "value", "value": "Gone"}',
        b'{"do": "mend", "signal": "EngineSpeed"}',
        b'{"do": "part", "part": "sail", "value": 1}',
        b'{"do": "part", "part": "oil", "value": 7}',
        b'{"do": "scenario", "name": "fly"}',
        b'{"do": "scenario"}',
        b'{"do": "state", "really": true}',
        b'{"do": "silence", "seconds": -1}',
        b'{"do": ' + b"[" * 3000,
        b"\xff\xfe",
    ],
)
def test_nonsense_gets_one_sentence_and_the_talk_goes_on(served_here, nonsense):
    served_here.say(nonsense + b"\n" + b'{"do": "sent"}\n')
    bad, good = served_here.heard(2)
    assert set(bad) == {"error"}
    assert "\n" not in bad["error"]
    assert len(bad["error"]) > 10
    assert good["sent"] == 0


def test_requests_survive_any_cut_and_come_back_in_order(served_here):
    stream = b'{"do": "sent"}\n{"do": "hold", "on": true}\n{"do": "state"}\n'
    for start in range(0, len(stream), 7):
        served_here.say(stream[start : start + 7])
        served_here.server.wait(0.0)
    sent, held, state = served_here.heard(3)
    assert sent["dropped"] == 0
    assert held == {"ok": True}
    assert state["held"] is True


def test_a_request_without_end_is_hung_up_on(served_here):
    for _ in range(3):
        served_here.say(b"x" * 40_000)
        served_here.server.wait(0.05)
    with pytest.raises((BrokenPipeError, ConnectionResetError)):
        served_here.client.sendall(b"x")


def test_a_client_who_does_not_read_is_dropped_and_holds_up_nobody(here):
    bench = here(lambda _: {"much": "x" * 1_000_000})
    other = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    with other:
        other.connect(str(bench.server._path))
        other.sendall(b'{"do": "state"}\n' * 60)
        until = time.monotonic() + 5
        sizes = []  # the listener, the client who reads, the client who does not
        while sizes[-2:] != [3, 2] and time.monotonic() < until:
            bench.server.wait(0.01)
            size = len(bench.server._selector.get_map())
            sizes += [size] if sizes[-1:] != [size] else []
        assert sizes[-2:] == [3, 2]
        bench.say(b"{}\n")
        assert len(bench.heard()[0]["much"]) == 1_000_000


def test_the_socket_of_a_killed_simulator_is_replaced_and_nothing_else_is(tmp_path):
    path = tmp_path / "control"
    with socket.socket(socket.AF_UNIX) as dead:
        dead.bind(str(path))
    server = ControlServer(path, lambda _: {})
    with pytest.raises(Forbidden, match="Another simulator"):
        ControlServer(path, lambda _: {})
    server.close()
    assert not path.exists()
    path.write_text("mine")
    with pytest.raises(Forbidden, match="no socket"):
        ControlServer(path, lambda _: {})
    assert path.read_text() == "mine"
    with pytest.raises(Misunderstood, match="too long"):
        ControlServer(tmp_path / ("x" * 120), lambda _: {})
    with pytest.raises(SimulatorError, match="cannot be opened"):
        ControlServer(tmp_path / "nowhere" / "control", lambda _: {})


def test_nobody_there_is_said_in_words(tmp_path):
    with pytest.raises(SimulatorError, match="No simulator answers"):
        Control(tmp_path / "control", wait_s=0.0)


def test_the_ledger_writes_as_it_comes_and_says_when_it_cannot(tmp_path):
    file = tmp_path / "ledger"
    ledger = Ledger(lambda: {"rev_min": 5.0}, file, clock=lambda: 12.5)
    ledger.enter("command", "done", bytes="S6")
    ledger.enter("frame", "nothing", violation="frame received", ident=1)
    lines = [json.loads(line) for line in file.read_text().splitlines()]
    assert lines == ledger.entries
    assert lines[0] == {"t": 12.5, "what": "command", "did": "done", "rev_min": 5.0, "bytes": "S6"}
    assert ledger.violations == [lines[1]]
    ledger.close()
    with pytest.raises(SimulatorError, match="cannot be written"):
        Ledger(dict, tmp_path / "nowhere" / "ledger")
    full = Ledger(dict, "/dev/full")
    with pytest.raises(SimulatorError, match="takes no more"):
        full.enter("command", "done")
    full.close()


def test_a_flood_does_not_fill_the_memory_and_is_still_counted(monkeypatch):
    assert KEEP >= 10_000
    monkeypatch.setattr("simulator.ledger.KEEP", 100)
    ledger = Ledger(dict)
    for _ in range(250):
        ledger.enter("frame", "nothing", violation="frame received")
    assert len(ledger.entries) == len(ledger.violations) == 100
    assert ledger.count == ledger.violation_count == 250


class Late:
    """A clock that jumps once, as when the machine is busy."""

    def __init__(self, jump):
        self.now, self.jump, self.calls = 100.0, jump, 0

    def __call__(self):
        self.calls += 1
        self.now += 0.001
        if self.calls == 2000:
            self.now += self.jump
        return self.now


@pytest.mark.parametrize(("jump", "made_up"), [(1.0, True), (30.0, False)])
def test_a_late_loop_makes_up_for_the_physics_without_a_burst(jump, made_up, tmp_path, monkeypatch):
    clock = Late(jump)
    server = Server(Craft(), channel=str(tmp_path / "craft"), clock=clock)
    monkeypatch.setattr("simulator.serve.time.sleep", lambda _: None)
    carried = []
    monkeypatch.setattr(server.transport, "carry", lambda frames, *_: carried.append((clock.calls, frames)))
    server.run(lambda: clock.calls > 4000)
    gone = server.craft.bus_ms / 1000.0
    assert gone == pytest.approx(clock.now - 100.0 - (0 if made_up else jump), abs=0.05)
    at_once = {}
    for turn, frames in carried:
        for ident, _ in frames:
            at_once[turn, ident] = at_once.get((turn, ident), 0) + 1
    assert max(at_once.values()) <= 3
    assert os.path.lexists(tmp_path / "craft") is False
