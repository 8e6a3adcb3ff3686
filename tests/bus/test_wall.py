"""The wall between the two processes."""

import os
import socket
import stat
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.errors import WallTaken
from app.messages import (
    MAX_MESSAGE,
    Catalogue,
    Link,
    LinkState,
    Mode,
    SetBitRate,
    SignalInfo,
    Snapshot,
    Value,
)
from app.reading import Quality
from bus.client import WallClient
from bus.wall import READERS, Wall


def snapshot(at=1.0, catalogue=0, values=()):
    return Snapshot(at, Link(LinkState.SILENT, 0.0), Mode.LIVE, None, None, catalogue, list(values))


def catalogue(number=1):
    info = SignalInfo("EngineSpeed", "Engine speed", "rev/min", "Engine", 0, 0, 9000, 0.3, [], False)
    return Catalogue(number, "auk", [info], {"engine_speed": "EngineSpeed"}, ["EngineSpeed"], ["Engine"])


@pytest.fixture
def requests():
    return []


@pytest.fixture
def wall(tmp_path, requests):
    wall = Wall(tmp_path / "run" / "wall", requests.append)
    yield wall
    wall.close()


@pytest.fixture
def connect(wall, tmp_path):
    clients = []

    def begin():
        client = WallClient(tmp_path / "run" / "wall")
        clients.append(client)
        assert client.poll().connected
        wall.serve(None)
        return client

    yield begin
    for client in clients:
        client.close()


def raw(tmp_path, wall):
    peer = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    peer.connect(str(tmp_path / "run" / "wall"))
    peer.settimeout(2)
    wall.serve(None)
    return peer


def closed(peer):
    try:
        return peer.recv(1 << 20) == b""
    except ConnectionResetError:
        return True


def test_the_socket_belongs_to_its_owner_only(wall, tmp_path):
    assert stat.S_IMODE((tmp_path / "run" / "wall").stat().st_mode) == 0o600


def test_a_snapshot_arrives_whole(wall, connect):
    client = connect()
    wanted = snapshot(2.5, 1, [Value(0, 1300.25, 2.4, Quality.GOOD, 288)])
    wall.publish(wanted)
    assert client.poll().snapshot == wanted


def test_of_many_snapshots_the_newest_wins(wall, connect):
    client = connect()
    for at in range(5):
        wall.publish(snapshot(float(at)))
    assert client.poll().snapshot.at == 4.0


def test_a_reader_that_never_reads_costs_nothing_but_its_own_snapshots(wall, connect):
    slow, quick = connect(), connect()
    for at in range(2000):
        wall.publish(snapshot(float(at)))
        assert quick.poll().snapshot.at == float(at)
    assert wall.dropped > 0
    slow.poll()
    wall.publish(snapshot(9999.0))
    assert slow.poll().snapshot.at == 9999.0


def test_the_catalogue_comes_when_a_snapshot_names_it(wall, connect):
    client = connect()
    wall.publish(snapshot(1.0, 1))
    assert client.poll().catalogue is None
    wall.serve(catalogue())
    assert client.poll().catalogue == catalogue()


def test_a_catalogue_of_another_number_is_not_used(wall, connect):
    client = connect()
    wall.publish(snapshot(1.0, 1))
    client.poll()
    wall.serve(catalogue(1))
    assert client.poll().catalogue is not None
    wall.publish(snapshot(2.0, 2))
    assert client.poll().catalogue is None


def test_a_request_reaches_the_bus_side(wall, connect, requests):
    connect().set_bit_rate(250_000)
    wall.serve(None)
    assert requests == [SetBitRate(250_000)]


@pytest.mark.parametrize(
    "message",
    [
        b"\x00",
        b"not msgpack",
        msgspec.msgpack.encode({"type": "no such request"}),
        msgspec.msgpack.encode({"type": "set_bit_rate", "bitrate": "fast"}),
        msgspec.msgpack.encode([1, 2, 3]),
        b"\x81" * 5000,
        b"x" * (MAX_MESSAGE + 1),
    ],
    ids=["null", "text", "unknown", "wrong_type", "list", "deep", "oversized"],
)
def test_nonsense_closes_that_connection_and_nothing_else(wall, connect, tmp_path, message, requests):
    other = connect()
    peer = raw(tmp_path, wall)
    peer.send(message)
    wall.serve(None)
    assert closed(peer)
    wall.publish(snapshot(7.0))
    assert other.poll().snapshot.at == 7.0
    assert wall.expelled == 1
    assert requests == []
    peer.close()


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(min_size=1, max_size=400))
def test_no_bytes_at_all_disturb_the_wall(wall, tmp_path, message):
    peer = raw(tmp_path, wall)
    peer.send(message)
    wall.serve(None)
    peer.close()
    wall.serve(None)
    wall.publish(snapshot())


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can pose as another user")
def test_another_users_connection_is_turned_away(requests):
    with tempfile.TemporaryDirectory() as folder:
        wall = Wall(Path(folder) / "wall", requests.append)
        Path(folder).chmod(0o755)
        (Path(folder) / "wall").chmod(0o777)
        code = (
            "import os, socket, sys; os.setuid(65534);"
            "s = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET);"
            "s.connect(sys.argv[1]); s.send(b'x'); sys.exit(0 if s.recv(10) == b'' else 1)"
        )
        stranger = subprocess.Popen([sys.executable, "-I", "-c", code, f"{folder}/wall"])
        while stranger.poll() is None:
            wall.serve(None)
            time.sleep(0.01)
        wall.close()
    assert stranger.returncode in (0, 1)
    assert wall.expelled == 0, "its message was not even read"
    assert not wall._readers


def test_no_more_readers_than_there_is_room_for(wall, tmp_path):
    peers = [raw(tmp_path, wall) for _ in range(READERS + 1)]
    assert closed(peers[-1])
    for peer in peers:
        peer.close()


def test_a_second_bus_process_is_refused_with_a_sentence(wall, tmp_path):
    with pytest.raises(WallTaken, match="already"):
        Wall(tmp_path / "run" / "wall", lambda _: None)


def test_a_socket_left_behind_by_a_kill_is_taken_over(tmp_path):
    path = tmp_path / "wall"
    left = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    left.bind(str(path))
    left.close()
    wall = Wall(path, lambda _: None)
    wall.close()
    assert not path.exists()


def test_the_client_finds_a_bus_process_that_was_started_again(tmp_path):
    now = [0.0]
    client = WallClient(tmp_path / "wall", clock=lambda: now[0])
    assert not client.poll().connected
    wall = Wall(tmp_path / "wall", lambda _: None)
    now[0] += 1
    assert client.poll().connected
    wall.serve(None)
    wall.publish(snapshot(3.0))
    assert client.poll().snapshot.at == 3.0
    wall.close()
    view = client.poll()
    assert not view.connected
    assert view.snapshot.at == 3.0, "old values are kept to be shown as old"
    wall = Wall(tmp_path / "wall", lambda _: None)
    now[0] += 1
    assert client.poll().connected
    client.close()
    wall.close()
