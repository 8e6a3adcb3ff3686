"""What the bus process asks of the machine before it serves."""

import json
import subprocess
import sys

PROGRAM = """
import gc, json, os, pathlib, signal, sys
from bus import process
from bus.adapter import Adapter
from bus.family import load_families
from bus.gate import Gate

class Looking(Gate):
    def start(self):
        print(json.dumps([gc.get_freeze_count(), len(gc.get_objects())]))
        os.kill(os.getpid(), signal.SIGTERM)
        super().start()

folder = pathlib.Path(sys.argv[1])
families, _ = load_families()
journal = folder / "journal.jsonl"
process.run(Adapter("virtual", "alone"), families, folder / "wall", None, journal=journal, make_gate=Looking)
"""
LINES = 3000


def test_a_collection_of_garbage_looks_neither_through_what_was_loaded_nor_through_the_journal(tmp_path):
    # The gate's loop waits for a collection: through families and libraries alone it took some 35 ms.
    line = {"kind": "purge", "mono": 1.0, "wall": 1.0, "boot": "", "prev": "", "body": {"craft": "auk 1"}}
    lines = [json.dumps({"n": number + 1, **line}) for number in range(LINES)]
    (tmp_path / "journal.jsonl").write_text("\n".join(lines) + "\n")
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(tmp_path)], capture_output=True, text=True, check=True, timeout=60
    )
    kept, looked_through = json.loads(done.stdout)
    assert kept > 10_000 + 2 * LINES
    assert looked_through < LINES / 2
