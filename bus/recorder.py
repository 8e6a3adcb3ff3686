"""Writes every received frame to disk by itself.

A recording is a candump-style text file that grows line by line, and beside it ``NAME.notes.jsonl``: where
the clocks stood, which adapter. Time stamps in the text are wall-clock seconds as they were at the start of
the file, carried on by the monotonic clock: a clock that is set in the middle bends nothing. The notes pair
both clocks, so either can be had from the other.
"""

from __future__ import annotations

import json
import os
import shutil
import sys
import threading
import time
from collections import deque
from typing import TYPE_CHECKING

from app.boot import boot_id
from app.messages import Recording
from bus.disk import sync_folder
from bus.recording import candump_line

if TYPE_CHECKING:
    from collections.abc import Callable
    from io import BufferedWriter
    from pathlib import Path

    from bus.frame import Frame
    from bus.way import Outlet

FLUSH_S = 0.2
"""From a frame to the kernel: what a killed program may lose."""

SYNC_S = 0.5
"""From a frame to the disk: what a power cut may lose."""

PAIR_S = 10.0
"""Between two notes of both clocks."""

STEP_S = 0.05
"""A difference of the clocks that is noted at once: the wall clock was set."""

FILE_BYTES = 128 * 2**20
"""Then a new file is begun: about an hour of a busy bus."""

RESERVE_BYTES = 200 * 2**20
"""Free space kept for the craft book; recording pauses below it and says so."""

MOST_MARKS = 100
"""That wait while nothing is recorded."""

IDLE_S = 60.0
"""Silence after which the file is closed; the next frame opens a new one."""


class Recorder:
    """Takes frames from the gate and keeps them.

    Args:
        folder: where recordings stand; made when the first frame comes.
        outlet: the gate's outlet to read.
        about: facts for the notes (adapter, bit rate).
        name: file name without its ending; None = the date and time (UTC) of the first frame.

    Attributes:
        state: what the glass shows of it.
    """

    def __init__(
        self,
        folder: Path,
        outlet: Outlet,
        about: Callable[[], dict[str, object]],
        *,
        name: str | None = None,
        clock: Callable[[], float] = time.monotonic,
        wall: Callable[[], float] = time.time,
    ) -> None:
        self._folder = folder
        self._name = name
        self._outlet = outlet
        self._about = about
        self._clock = clock
        self._wall = wall
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="recorder", daemon=True)
        self._file: BufferedWriter | None = None
        self._notes: BufferedWriter | None = None
        self._offset = 0.0
        self._noted_offset = 0.0
        self._bytes = 0
        self._told: dict[str, object] = {}
        self._marks: deque[tuple[int, float]] = deque(maxlen=MOST_MARKS)
        self._lost_before = 0
        now = clock()
        self._flushed = self._synced = self._paired = self._last_frame = now
        self.state: Recording | None = None

    def start(self) -> None:
        """Begin; returns at once."""
        self._thread.start()

    def stop(self) -> None:
        """Write what is still waiting, sync, end."""
        self._stop.set()
        self._thread.join(10)

    def mark(self, number: int, at: float) -> None:
        """Somebody marked a moment; it stands in the notes beside the frames of then.

        Args:
            number: of the mark.
            at: seconds on CLOCK_MONOTONIC.
        """
        self._marks.append((number, at))

    def _run(self) -> None:
        while not self._stop.is_set():
            self._step(self._outlet.take(FLUSH_S / 2))
        while frames := self._outlet.take(0):
            self._step(frames)
        self._close()

    def _step(self, frames: list[Frame]) -> None:
        now = self._clock()
        try:
            if frames:
                self._keep(frames, now)
            if self._file is not None:
                self._to_disk(now)
        except OSError as error:
            self._trouble(f"Not recording: {error.strerror or error}.")
            self._close()

    def _keep(self, frames: list[Frame], now: float) -> None:
        if self._file is None:
            if shutil.disk_usage(self._existing()).free < RESERVE_BYTES:
                self._trouble(
                    "Not recording: the storage is nearly full. Copy recordings off and delete them."
                )
                return
            self._open(now)
        assert self._file is not None
        block = b"".join([candump_line(frame.at + self._offset, "can0", frame) for frame in frames])
        self._file.write(block)
        self._bytes += len(block)
        self._last_frame = now
        assert self.state is not None
        lost = self._outlet.lost - self._lost_before
        self.state = Recording(
            self.state.file,
            self.state.started_at,
            self.state.frames + len(frames),
            f"{lost} frames were not recorded: the storage is too slow." if lost else "",
        )

    def _existing(self) -> Path:
        self._folder.mkdir(parents=True, exist_ok=True)
        return self._folder

    def _open(self, now: float) -> None:
        self._offset = self._noted_offset = self._wall() - now
        self._lost_before = self._outlet.lost
        stamp = self._name or time.strftime("%Y%m%d-%H%M%S", time.gmtime(self._wall()))
        path = self._existing() / f"{stamp}.log"
        number = 1
        while path.exists():
            number += 1
            path = self._folder / f"{stamp}-{number}.log"
        self._file = path.open("xb")
        self._notes = path.with_suffix(".notes.jsonl").open("xb")
        self._bytes = 0
        self._flushed = self._synced = now
        self.state = Recording(path.name, now, 0)
        self._told = self._about()
        self._note("start", now, boot_id=boot_id(), **self._told)
        sync_folder(self._folder)

    def _note(self, kind: str, now: float, **more: object) -> None:
        assert self._notes is not None
        line = {"kind": kind, "mono": round(now, 6), "wall": round(self._wall(), 6), "offset": self._offset}
        self._notes.write((json.dumps(line | more) + "\n").encode())
        self._notes.flush()
        self._paired = now

    def _to_disk(self, now: float) -> None:
        assert self._file is not None
        assert self._notes is not None
        if now - self._flushed >= FLUSH_S:
            self._file.flush()
            self._flushed = now
        about = self._about()
        if about != self._told:  # the bit rate is known only after listening
            self._told = about
            self._note("adapter", now, **about)
        while self._marks:
            number, at = self._marks.popleft()
            if self.state is None or at < self.state.started_at:
                continue  # of a ride before this recording
            self._note("mark", now, number=number, at=round(at, 6), at_wall=round(at + self._offset, 6))
        step = self._wall() - now - self._noted_offset
        if abs(step) > STEP_S or now - self._paired > PAIR_S:
            self._noted_offset += step
            self._note("clock", now)
        if now - self._synced >= SYNC_S:
            os.fdatasync(self._file.fileno())
            os.fdatasync(self._notes.fileno())
            self._synced = self._clock()
        if self._bytes > FILE_BYTES or now - self._last_frame > IDLE_S:
            self._close()

    def _close(self) -> None:
        for file in (self._file, self._notes):
            if file is None:
                continue
            try:
                file.flush()
                os.fsync(file.fileno())
                file.close()
            except OSError as error:
                self._trouble(f"The end of the recording could not be written: {error.strerror or error}.")
        if self._file is not None and self.state is not None and not self.state.trouble:
            self.state = None
        self._file = self._notes = None

    def _trouble(self, sentence: str) -> None:
        if self.state is None or self.state.trouble != sentence:
            print(sentence, file=sys.stderr, flush=True)
        old = self.state
        self.state = Recording(
            old.file if old else "",
            old.started_at if old else self._clock(),
            old.frames if old else 0,
            sentence,
        )
