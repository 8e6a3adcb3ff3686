"""What the bus process asks of the machine before it serves."""

import subprocess
import sys

PROGRAM = """
import gc
from bus import process
from bus.family import load_families
families = load_families()
process.settle_in()
print(gc.get_freeze_count(), len(gc.get_objects()))
"""


def test_a_collection_of_garbage_does_not_look_through_what_was_loaded():
    # The gate's loop waits for a collection: through the families and libraries it took some 35 ms.
    done = subprocess.run([sys.executable, "-c", PROGRAM], capture_output=True, text=True, check=True)
    kept, looked_through = map(int, done.stdout.split())
    assert kept > 10_000
    assert looked_through < kept / 20
