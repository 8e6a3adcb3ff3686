"""Whatever is wrong, the answer is one plain sentence, the designed exit code and no traceback."""

import os
import subprocess
import sys

import pytest

from bus.family import SHIPPED


@pytest.fixture
def boathook(tmp_path):
    def run(*words, seconds=30):
        done = subprocess.run(
            [sys.executable, "-m", "app", *map(str, words)],
            capture_output=True,
            text=True,
            timeout=seconds,
            check=False,
            env=dict(
                os.environ, XDG_DATA_HOME=str(tmp_path / "home"), XDG_CACHE_HOME=str(tmp_path / "cache")
            ),
        )
        assert "Traceback" not in done.stderr
        return done

    return run


@pytest.fixture
def live(boathook, tmp_path):
    return lambda *words: boathook("watch", "--seconds", "1", "--run", tmp_path / "run", *words)


def said(done, *fragments):
    lines = [line for line in done.stderr.splitlines() if line]
    assert lines, "nothing was said"
    assert len(lines) <= 3, done.stderr
    for fragment in fragments:
        assert fragment in done.stderr
    return True


def test_an_interface_nobody_knows(live):
    done = live("--interface", "telepathy", "--channel", "x")
    assert done.returncode == 1
    assert said(done, "telepathy", "driver is")


def test_a_device_that_is_not_there(live):
    done = live("--interface", "slcan", "--channel", "/dev/no-such-device")
    assert done.returncode == 1
    assert said(done, "There is no /dev/no-such-device", "Plug the adapter in")


def test_a_device_that_may_not_be_opened(live, monkeypatch, tmp_path):
    # Root may open anything, so the refusal is planted where the system would give it.
    code = (
        "import sys, serial\n"
        "def deny(*a, **k): raise serial.SerialException(13, 'could not open port: Permission denied')\n"
        "serial.Serial = deny\n"
        "from app.__main__ import main\n"
        "sys.exit(main(sys.argv[1:]))"
    )
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            code,
            "watch",
            "--seconds",
            "1",
            "--run",
            tmp_path / "run",
            "--interface",
            "slcan",
            "--channel",
            "/dev/ttyACM0",
        ],
        capture_output=True,
        text=True,
        timeout=30,
        check=False,
    )
    assert done.returncode == 1
    assert said(done, "may not open /dev/ttyACM0", "group")


def test_a_file_that_is_no_adapter(live, tmp_path):
    (tmp_path / "file").write_text("nothing")
    done = live("--interface", "slcan", "--channel", tmp_path / "file")
    assert done.returncode == 1
    assert said(done, "could not be opened")


def test_a_channel_without_its_interface(live):
    done = live("--channel", "can0")
    assert done.returncode == 2
    assert said(done, "--interface")


def test_a_bit_rate_the_adapter_does_not_know(live, tmp_path):
    done = live("--interface", "slcan", "--channel", "/dev/null", "--bitrate", "123")
    assert done.returncode == 1
    assert said(done, "123")


def test_a_command_that_does_not_exist(boathook):
    assert boathook("fly").returncode == 2


def test_a_recording_that_is_not_there(boathook):
    done = boathook("watch", "--from", "/no/such.log")
    assert done.returncode == 1
    assert said(done, "/no/such.log")


def test_a_recording_that_is_only_noise(boathook, tmp_path):
    (tmp_path / "noise.log").write_bytes(os.urandom(5000))
    done = boathook("watch", "--from", tmp_path / "noise.log")
    assert done.returncode == 1
    assert said(done, "noise.log")


def test_a_recording_cut_in_the_middle_gives_what_is_whole(boathook, tmp_path):
    line = "(1700000000.{:06d}) can0 120#0000000000000000\n"
    rest = "(1700000000.5) can0 1A0#0000000000000000\n(1700000000.6) can0 210#0000000000000000\n"
    text = "".join(line.format(n) for n in range(50)) + rest + "(1700000001.0) can0 120#00000"
    (tmp_path / "cut.log").write_text(text)
    done = boathook("watch", "--from", tmp_path / "cut.log", "--json")
    assert done.returncode == 0
    assert done.stdout.count('"EngineSpeed"') == 50
    assert said(done, "1 line")


def test_a_family_with_a_mistake_says_file_line_what_and_mend(boathook, tmp_path):
    folder = tmp_path / "home" / "boathook" / "families" / "mine"
    folder.mkdir(parents=True)
    (folder / "signals.dbc").write_text((SHIPPED / "auk" / "signals.dbc").read_text())
    text = (SHIPPED / "auk" / "family.toml").read_text().replace('name = "auk"', 'name = "mine"')
    (folder / "family.toml").write_text(text.replace("decimals = 0", 'decimals = "none"', 1))
    line = next(n for n, row in enumerate(text.splitlines(), 1) if row == "decimals = 0")
    done = boathook("families", "check", folder)
    assert done.returncode == 1
    assert f"family.toml, line {line}" in done.stdout + done.stderr
    listing = boathook("families", "list")
    assert "auk" in listing.stdout
    assert "nmea2000" in listing.stdout


def test_recordings_are_never_overwritten(boathook, tmp_path):
    (tmp_path / "kept.log").write_text("mine")
    done = boathook("record", tmp_path / "kept.log", "--run", tmp_path / "run", "--seconds", "1")
    assert done.returncode == 1
    assert said(done, "not overwritten")
    assert (tmp_path / "kept.log").read_text() == "mine"


def test_a_panel_nobody_knows(boathook, tmp_path):
    done = boathook("screen", "--panel", "cinema", "--run", tmp_path / "run")
    assert done.returncode == 2
    assert said(done, "cinema")


def test_the_doctor_says_what_is_not_fit(boathook, tmp_path):
    done = boathook(
        "doctor",
        "--json",
        "--run",
        tmp_path / "run",
        "--data",
        tmp_path / "data",
        "--interface",
        "slcan",
        "--channel",
        "/dev/no-such-device",
    )
    assert done.returncode == 1
    assert '"part":"adapter","ok":false' in done.stdout
    assert '"part":"storage","ok":true' in done.stdout
    assert '"part":"clock","ok":true' in done.stdout
