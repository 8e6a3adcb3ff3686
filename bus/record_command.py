"""Records the bus from the command line."""

from __future__ import annotations

import sys
import time
from typing import TYPE_CHECKING

from app.errors import StorageError
from bus.gate import Gate
from bus.recorder import Recorder
from bus.way import Way

if TYPE_CHECKING:
    from pathlib import Path

    from bus.adapter import Adapter

TURN_S = 0.2


def record(adapter: Adapter, path: Path, *, until: float) -> int:
    """Write every frame to ``path`` until the monotonic clock says ``until`` or Ctrl-C.

    Returns:
        0 if at least one frame was written, else 1.

    Raises:
        StorageError: the file is there already, or its name does not end in .log.
    """
    if path.suffix != ".log":
        raise StorageError(f"{path}: a recording's name ends in .log. Choose such a name.")
    if path.exists():
        raise StorageError(f"{path} is there already and is not overwritten. Choose another name.")
    gate = Gate(adapter)
    # the status is replaced as a whole, so it is asked for anew each time
    about = lambda: gate.status.about()  # noqa: E731, PLW0108
    recorder = Recorder(path.parent, gate.outlet(), about, name=path.stem)
    gate.start()
    recorder.start()
    said = ""
    frames = 0
    trouble = ""
    try:
        while time.monotonic() < until:
            time.sleep(TURN_S)
            status = gate.status
            words = status.reason if status.way in (Way.NO_ADAPTER, Way.NEED_RATE) else ""
            if words and words != said:
                print(words, file=sys.stderr, flush=True)
            said = words
            if recorder.state is not None:
                frames, trouble = recorder.state.frames, recorder.state.trouble
    except KeyboardInterrupt:
        pass
    finally:
        gate.stop()
        recorder.stop()
    if recorder.state is not None:
        frames, trouble = recorder.state.frames, recorder.state.trouble
    if frames == 0:
        print(trouble or "Nothing was heard; no file was written.", file=sys.stderr)
        return 1
    print(f"{frames} frames in {path}.", file=sys.stderr)
    return 0
