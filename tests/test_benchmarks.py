"""The benchmarks find all they need when they are started by hand, outside of pytest."""

import subprocess
import sys
from pathlib import Path

import pytest

FOLDER = Path(__file__).parent / "benchmarks"
LAZY = {"reaction_glass": "reaction_glass.whole_kiosk()"}
"""What a module loads only when it is used."""


@pytest.mark.parametrize("name", sorted(path.stem for path in FOLDER.glob("*.py")))
def test_it_can_be_loaded(name):
    done = subprocess.run(
        [sys.executable, "-c", f"import {name}; {LAZY.get(name, '')}"],
        cwd=FOLDER,
        env={"PYTHONPATH": str(FOLDER.parents[1])},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
