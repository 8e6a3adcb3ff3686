"""The two commands of the README, run in a copy of the checkout with stand-ins for Python, apt and display.

What the stand-ins say when they fail is in the words of pip 23, pip 25 and apt 2.6, shortened; the words
about the disk, the network and apt were seen on Debian 12 and 13, the others are from memory.
"""

from __future__ import annotations

import fcntl
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TOOLS = """
    awk basename bash cat chmod cp cut date df dirname env find flock git grep head id kill mkdir mktemp mv
    readlink rm setpriv sha256sum sleep sort sudo tail touch tr tty uname
"""

PYTHON = r"""#!/usr/bin/env bash
# Stands in for Python: makes the environments it is told to make, and keeps a list of what it was asked.
printf '%s\n' "$*" >>"$BOX/python.log"
case "$*" in
  "-I -") echo "${FACTS:-fit 3.11} $0" ;;
  "-m venv "*) mkdir -p "$3/bin" && cp "$0" "$3/bin/python" ;;
  "-m pip install"*)
    [[ -z ${PIP_SAYS-} ]] || { echo "$PIP_SAYS"; exit 1; }
    case "$*" in *--editable*) cp "$BOX/boathook" "$PWD/.venv/bin/boathook" ;; esac ;;
esac
"""
BOATHOOK = r"""#!/usr/bin/env bash
printf '%s\n' "${DISPLAY:+$DISPLAY }$*" >>"$BOX/boathook.log"
[[ $1 != tour ]] || echo picture >"$2/ride.png"
"""
DPKG = r"""#!/usr/bin/env bash
[[ ${!#} == "${MISSING-}" ]] && echo not-installed || echo installed
"""
APT = r"""#!/usr/bin/env bash
printf '%s\n' "$*" >>"$BOX/apt.log"
[[ -z ${APT_SAYS-} ]] || { echo "$APT_SAYS"; exit 100; }
"""
XVFB = "#!/usr/bin/env bash\necho 4711\nexec sleep 60\n"


class Box:
    """A machine of stand-ins around a copy of the checkout, in a folder with a space in its name."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.root = folder / "a checkout"
        (self.root / "deploy").mkdir(parents=True)
        for source in [*(ROOT / "deploy").iterdir(), ROOT / "pyproject.toml"]:
            if source.is_file():
                shutil.copy(source, self.root / source.relative_to(ROOT))
        self.bin = folder / "bin"
        self.bin.mkdir()
        for tool in TOOLS.split():
            if path := shutil.which(tool):
                (self.bin / tool).symlink_to(path)
        programs = {"python3": PYTHON, "dpkg-query": DPKG, "apt-get": APT, "Xvfb": XVFB}
        for name, text in programs.items():
            self.program(self.bin / name, text)
        self.program(folder / "boathook", BOATHOOK)
        self.elsewhere = folder / "elsewhere"
        self.elsewhere.mkdir()

    @staticmethod
    def program(path: Path, text: str) -> None:
        path.unlink(missing_ok=True)
        path.write_text(text)
        path.chmod(0o755)

    def run(self, command: str, *arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [self.root / "deploy" / command, *arguments],
            cwd=self.elsewhere,
            env={"PATH": str(self.bin), "BOX": str(self.folder), "TMPDIR": str(self.folder), **environment},
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )

    def log(self, program: str) -> list[str]:
        file = self.folder / f"{program}.log"
        return file.read_text().splitlines() if file.exists() else []

    def forget(self) -> None:
        for file in self.folder.glob("*.log"):
            file.unlink()

    @property
    def venv(self) -> Path:
        return self.root / ".venv"


@pytest.fixture
def box(tmp_path):
    return Box(tmp_path)


def one_sentence(done: subprocess.CompletedProcess[str], code: int) -> str:
    """The only line of an error that a person should have to read."""
    assert done.returncode == code, done.stderr
    lines = done.stderr.splitlines()
    assert len(lines) == 1, done.stderr
    assert lines[0].endswith((".", ")"))
    return lines[0]


@pytest.mark.parametrize("command", ["try", "test"])
def test_an_unknown_option_gets_one_plain_sentence(box, command):
    assert "'--sideways' is not an option" in one_sentence(box.run(command, "--sideways"), 2)
    assert box.log("python") == []


@pytest.mark.parametrize(
    ("option", "asked"), [("--safety", "-m pytest -q -m slow"), ("--mutation", "tests/mutation/run.py")]
)
def test_a_long_profile_runs_instead_of_the_checks_and_needs_no_window(box, option, asked):
    done = box.run("test", option)
    assert done.returncode == 0, done.stderr
    asked_of_python = [
        line for line in box.log("python") if not line.startswith(("-I", "-m venv", "-m pip", "-c"))
    ]
    assert len(asked_of_python) == 1
    assert asked_of_python[0].startswith(asked)
    assert box.log("apt") == []


@pytest.mark.parametrize("command", ["try", "test"])
def test_help_needs_no_set_up(box, command):
    done = box.run(command, "--help")
    assert (done.returncode, done.stderr) == (0, "")
    assert f"deploy/{command}" in done.stdout
    assert box.log("python") == []


def test_without_a_display_pictures_go_into_a_folder_that_is_named(box):
    done = box.run("try")
    assert done.returncode == 0, done.stderr
    pictures = box.root / "build" / "pictures"
    assert f"1 pictures are in {pictures}" in done.stdout
    assert (pictures / "ride.png").exists()
    assert box.log("boathook") == [f"tour {pictures}"]


def test_a_folder_for_pictures_is_taken_from_where_the_caller_stands(box):
    assert box.run("try", "--pictures", "my pictures").returncode == 0
    assert (box.elsewhere / "my pictures" / "ride.png").exists()


def test_with_a_display_the_kiosk_opens_with_a_simulated_craft(box):
    done = box.run("try", DISPLAY="elsewhere:0")
    assert done.returncode == 0, done.stderr
    assert [line.split()[:2] for line in box.log("boathook")] == [["elsewhere:0", "--demo"]]


def test_two_open_kiosks_have_folders_of_their_own(box):
    first = box.root / "build" / "run"
    first.mkdir(parents=True)
    held = os.open(first, os.O_RDONLY)
    try:
        fcntl.flock(held, fcntl.LOCK_EX)
        box.run("try", DISPLAY="elsewhere:0")
    finally:
        os.close(held)
    box.run("try", DISPLAY="elsewhere:0")
    folders = [line.split(" --run ")[1].split(" --data ")[0] for line in box.log("boathook")]
    short = len(str(first)) < 78  # a socket's name has no room for a long folder
    assert folders[0] != folders[1]
    assert not short or folders == [f"{first}-2", str(first)]


def test_packages_come_by_hash_and_nothing_is_compiled(box):
    box.run("try")
    installs = [line for line in box.log("python") if "pip install" in line]
    assert len(installs) == 2
    assert "--require-hashes --only-binary=:all:" in installs[0]
    assert "--no-deps --no-build-isolation --editable ." in installs[1]


def test_a_second_run_installs_nothing_and_asks_nothing(box):
    box.run("try")
    box.forget()
    assert box.run("try").returncode == 0
    assert [line for line in box.log("python") if "pip" in line or "venv" in line] == []
    assert box.log("apt") == []


def test_an_environment_for_the_tests_serves_the_kiosk_but_not_the_other_way_round(box):
    box.run("try")
    box.forget()
    box.run("test")
    assert any("requirements-dev.lock" in line for line in box.log("python"))
    box.forget()
    box.run("try")
    assert not any("pip" in line for line in box.log("python"))


def test_a_changed_lock_is_noticed(box):
    box.run("try")
    box.forget()
    with (box.root / "deploy" / "requirements.lock").open("a") as lock:
        lock.write("# changed\n")
    box.run("try")
    assert any("pip install" in line for line in box.log("python"))
    assert not any("-m venv" in line for line in box.log("python"))


def test_a_half_made_environment_is_finished_and_its_downloads_are_kept(box):
    stopped = box.run("try", PIP_SAYS="Failed to establish a new connection")
    assert "No network" in one_sentence(stopped, 1)
    (box.venv / "cache").mkdir(exist_ok=True)
    (box.venv / "cache" / "wheel").touch()
    (box.venv / "half").touch()
    box.forget()
    again = box.run("try", PIP_SAYS="Failed to establish a new connection")
    assert "An earlier set-up was interrupted; finishing it." in again.stdout
    assert not (box.venv / "half").exists()
    assert (box.venv / "cache" / "wheel").exists()
    assert box.run("try").returncode == 0
    assert not (box.venv / "cache").exists()


def test_a_moved_checkout_gets_a_new_environment(box):
    box.run("try")
    box.forget()
    box.root = box.root.rename(box.folder / "another place")
    assert box.run("try").returncode == 0
    assert any("-m venv" in line for line in box.log("python"))


def test_two_at_the_same_time_install_once(box):
    ready = box.folder / "ready"
    held = (
        f'for ((i = 0; i < 600; i++)); do [[ -e "{ready}" ]] && break; sleep 0.05; done; cp "$BOX/boathook"'
    )
    box.program(box.bin / "python3", PYTHON.replace('cp "$BOX/boathook"', held))

    def start() -> subprocess.Popen[str]:
        environment = {"PATH": str(box.bin), "BOX": str(box.folder)}
        return subprocess.Popen(
            [box.root / "deploy" / "try"], env=environment, stdout=subprocess.PIPE, text=True
        )

    with start() as first:
        assert any("Installing the Python packages" in line for line in first.stdout)  # it holds the lock now
        with start() as second:
            assert any("Another deploy command is at work" in line for line in second.stdout)
            ready.touch()
            assert "pictures are in" in second.communicate(timeout=60)[0]
        assert "pictures are in" in first.communicate(timeout=60)[0]
    assert [first.returncode, second.returncode] == [0, 0]
    assert len([line for line in box.log("python") if "--editable" in line]) == 1


@pytest.mark.parametrize(
    ("facts", "sentence"),
    [
        ("wrong 3.9", "Python here is 3.9"),
        ("no-venv 3.11", "lacks its venv module"),
    ],
)
def test_an_unfit_python_is_told_in_one_sentence(box, facts, sentence):
    assert sentence in one_sentence(box.run("try", FACTS=facts), 1)


def test_no_python_at_all_is_told_in_one_sentence(box):
    (box.bin / "python3").unlink()
    assert "No Python was found" in one_sentence(box.run("try"), 1)


def test_the_newest_fit_python_is_taken_when_python3_is_too_old(box):
    box.program(box.bin / "python3", PYTHON.replace("fit 3.11", "wrong 3.9"))
    for version in ("3.11", "3.12"):
        box.program(box.bin / f"python{version}", PYTHON)
    done = box.run("try")
    assert f"with Python at {box.bin / 'python3.12'}" in done.stdout


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        (
            "ERROR: Could not install packages due to an OSError: [Errno 28] No space left on device",
            "disk is full",
        ),
        (
            "Failed to establish a new connection: [Errno -3] Temporary failure in name resolution",
            "No network",
        ),
        (
            "[SSL: CERTIFICATE_VERIFY_FAILED] certificate verify failed: certificate is not yet valid",
            "clock says",
        ),
        ("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE.", "differs from the one"),
    ],
)
def test_a_failed_download_is_told_in_one_sentence(box, said, sentence):
    assert sentence in one_sentence(box.run("try", PIP_SAYS=said), 1)


def test_an_unforeseen_failure_shows_its_last_words(box):
    done = box.run("try", PIP_SAYS="the dog ate it")
    assert done.returncode == 1
    assert done.stderr.splitlines()[0] == "the dog ate it"


@pytest.mark.skipif(os.geteuid() != 0, reason="only root installs without being asked")
@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ("Temporary failure resolving 'mirror'\nE: Unable to locate package xdotool", "No network"),
        ("E: You don't have enough free space in /var/cache/apt/archives/.", "disk is full"),
        ("E: dpkg was interrupted, you must manually run 'dpkg --configure -a'", "dpkg --configure -a"),
        ("E: Unable to locate package xdotool", "does not offer: xdotool"),
    ],
)
def test_a_failed_apt_is_told_in_one_sentence(box, said, sentence):
    assert sentence in one_sentence(box.run("try", MISSING="xdotool", APT_SAYS=said), 1)


@pytest.mark.skipif(os.geteuid() == 0, reason="root is not asked")
def test_nobody_at_the_keyboard_means_no_sudo(box):
    done = box.run("try", MISSING="xdotool")
    assert "run" in one_sentence(done, 1)
    assert box.log("apt") == []


def test_a_failed_check_does_not_hide_the_others(box):
    box.program(box.bin / "python3", PYTHON + 'case "$*" in *ruff*) exit 1 ;; esac\n')
    box.program(box.folder / "boathook", BOATHOOK + 'cp "$0" "${0%/*}/lint-imports"\n')
    done = box.run("test")
    assert done.returncode == 1
    assert "types (mypy): passed" in done.stdout
    assert "FAILED" in done.stdout.splitlines()[-1]
    assert "style (ruff)" in done.stdout.splitlines()[-1]


def test_the_real_interpreter_is_found_fit():
    look = f'. "{ROOT}/deploy/environment.sh"; look_at_python "{sys.executable}"'
    word, version, path = subprocess.run(
        ["bash", "-c", look], check=True, capture_output=True, text=True
    ).stdout.split(maxsplit=2)
    assert word == "fit"
    assert version == f"{sys.version_info.major}.{sys.version_info.minor}"
    assert Path(path.strip()).exists()
