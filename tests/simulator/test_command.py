"""The command as a process: what it prints, how it ends, and what it costs."""

import argparse
import json
import signal
import subprocess
import sys
import time
from pathlib import Path

import can
import pytest

from simulator import command, scenario
from simulator.broadcast import FAMILIES

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def simulate():
    def run(*arguments):
        return subprocess.run(
            [sys.executable, "-m", "simulator", *arguments],
            cwd=ROOT,
            capture_output=True,
            text=True,
            timeout=30,
            check=False,
        )

    return run


def test_the_list_names_every_scenario(simulate):
    done = simulate("--list")
    assert done.returncode == 0
    assert [line.split()[0] for line in done.stdout.splitlines()] == scenario.names()
    assert all(len(line.split()) > 2 for line in done.stdout.splitlines())
    listed = [json.loads(line) for line in simulate("--list", "--json").stdout.splitlines()]
    assert [one["name"] for one in listed] == scenario.names()
    assert all(set(one["families"]) <= set(FAMILIES) and one["title"] for one in listed)


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["--interface", "pcan", "--channel", "PCAN_USBBUS1"], 3, "never opens pcan"),
        (["--interface", "socketcan", "--channel", "can0"], 3, "does not send on can0"),
        (["--interface", "socketcan"], 3, "unnamed"),
        (["--scenario", "fly"], 2, "no scenario 'fly'"),
        (["--family", "gannet"], 2, "no simulated family 'gannet'"),
        (["--family", "nmea2000", "--scenario", "coolant_open"], 2, "made for auk"),
        (["--speed", "0"], 2, "more than 0"),
        (["--nodes", "0"], 2, "at least one"),
        (["--control", "/nowhere/control"], 1, "cannot be opened"),
        (["--ledger", "/nowhere/ledger"], 1, "cannot be written"),
    ],
    ids=lambda value: "-".join(value).replace("/", "") if isinstance(value, list) else "",
)
def test_what_is_refused_is_said_in_one_sentence_with_its_exit_code(capsys, arguments, code, words):
    parser = argparse.ArgumentParser()
    command.add_arguments(parser)
    assert command.run(parser.parse_args(arguments)) == code
    said = capsys.readouterr()
    assert words in said.err
    assert len(said.err.splitlines()) == 1
    assert said.out == ""


def test_a_refusal_is_the_exit_code_of_the_process_too(simulate):
    done = simulate("--interface", "socketcan", "--channel", "lo")
    assert (done.returncode, done.stdout) == (3, "")
    assert "does not send on lo" in done.stderr
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_ends_it_cleanly_and_takes_link_and_socket_away(serve, number):
    served = serve("--json")
    said = json.loads(served.said)
    assert said == {
        "family": "auk",
        "scenario": "dock",
        "interface": "slcan",
        "channel": str(served.link),
        "bitrate": 500_000,
        "control": str(served.socket),
    }
    served.process.send_signal(number)
    assert served.process.wait(5) == 0
    assert not served.link.is_symlink()
    assert not served.socket.exists()
    assert served.process.stderr.read() == ""


def test_one_plain_line_says_that_it_serves(serve):
    served = serve("--scenario", "ride")
    for words in ("Simulated auk", "ride", str(served.link), "500000 bit/s", str(served.socket)):
        assert words in served.said


def test_serving_costs_little_and_keeps_time(serve):
    # Held against python-can's own reader of the very same frames in the same seconds, so that a slow or busy
    # machine slows both: some 0.9 of it here (0.105 of a core; the goal was 0.12).
    served = serve("--scenario", "ride")
    with can.Bus(
        interface="slcan", channel=str(served.link), bitrate=500_000, listen_only=True, sleep_after_open=0
    ) as bus:
        began, cpu, craft = time.monotonic(), served.cpu_seconds(), served.ask("state")["engine"]["t"]
        reading = time.thread_time()
        while time.monotonic() < began + 4.0:
            bus.recv(0.5)
        gone = time.monotonic() - began
        reading = time.thread_time() - reading
        cost = served.cpu_seconds() - cpu
        played = served.ask("state")["engine"]["t"] - craft
    assert cost < 1.5 * reading
    assert played == pytest.approx(gone, abs=0.1)
    assert served.ask("sent")["dropped"] == 0


def test_the_tools_own_command_hands_its_arguments_over():
    done = subprocess.run(
        [sys.executable, "-m", "app", "simulate", "--interface", "pcan"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=30,
        check=False,
    )
    assert done.returncode == 3
    assert "never opens pcan" in done.stderr
