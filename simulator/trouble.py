"""A controller's memory of faults: status, how often, how long ago, and the values of the moment.

Status byte of ISO 14229-1. Kept simple: a code is pending after the first trip and confirmed after the
second; a cleared code is judged again at the next key-on; a fault of the wire shows with the key on, another
one only while the engine runs. A trip is one key cycle in which it failed.
"""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from simulator.codes import code_bytes
from simulator.errors import Misunderstood

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

FAILED, FAILED_THIS_CYCLE, PENDING, CONFIRMED = 0x01, 0x02, 0x04, 0x08
NOT_TESTED_SINCE_CLEAR, FAILED_SINCE_CLEAR, NOT_TESTED_THIS_CYCLE = 0x10, 0x20, 0x40
CLEARED = NOT_TESTED_SINCE_CLEAR | NOT_TESTED_THIS_CYCLE
"""Right after a clear: 50."""
NEEDED_TRIPS = 2
FORGOTTEN_AFTER = 40
"""Trips without the fault after which a confirmed code is dropped (usual for land vehicles, from memory)."""
KEY_TEST_S, RUNNING_TEST_S = 1.0, 2.0
"""The wires are tested so long after key-on, the rest so long after the engine began to run."""


@dataclasses.dataclass
class Stored:
    """One code in memory.

    Attributes:
        status: byte of ISO 14229-1.
        count: times it began to fail; age: trips since it last failed.
        trips: key cycles in a row in which it failed.
        snapshot: data of the moment it first failed, as service 19 04 gives them after the record number.
        waits: cleared; a hard one is not judged before the next key-on.
        hard: tested with the key on; False = only while the engine runs.
    """

    status: int = CLEARED
    count: int = 0
    age: int = 0
    trips: int = 0
    snapshot: bytes = b""
    waits: bool = False
    hard: bool = True


class Memory:
    """The codes one controller knows and has stored.

    Attributes:
        supported: every code it can store, in the order of its list.
        stored: those in memory, by code, in the order in which they came.
        wanted: faults that were ordered by hand: code to whether it is a hard one.
    """

    def __init__(self, supported: Sequence[str], snapshot: Callable[[], bytes]) -> None:
        self.supported = list(supported)
        self.stored: dict[str, Stored] = {}
        self.wanted: dict[str, bool] = {}
        self._snapshot = snapshot

    def order(self, code: str, *, hard: bool, trips: int) -> None:
        """A fault is there from now on, and stored at once as if it had been there for so many trips.

        Args:
            code: any fault code; one that is not supported is from then on.
            hard: it shows with the key on; False = only while the engine runs.
            trips: 1 = pending, 2 and more = confirmed.

        Raises:
            Misunderstood: it is no fault code.
        """
        code_bytes(code)
        if code not in self.supported:
            self.supported.append(code)
        self.wanted[code] = hard
        stored = self.stored.setdefault(code, Stored())
        stored.trips = trips - 1
        stored.count = max(stored.count, trips - 1)
        stored.waits, stored.hard = False, hard
        stored.status &= ~(FAILED | FAILED_THIS_CYCLE)
        self._fail(stored)

    def mend(self, code: str) -> None:
        """The fault is gone; the code stays in memory.

        Raises:
            Misunderstood: it had not been ordered.
        """
        if self.wanted.pop(code, None) is None:
            raise Misunderstood(f"The fault {code} had not been ordered.")
        self.stored[code].status &= ~FAILED

    def new_cycle(self) -> None:
        """The key was turned on."""
        for code, stored in list(self.stored.items()):
            passed = not stored.status & (FAILED_THIS_CYCLE | NOT_TESTED_THIS_CYCLE)
            if passed:
                stored.age += 1
                stored.trips = 0
                stored.status &= ~PENDING
            if (
                not stored.status & (PENDING | CONFIRMED | NOT_TESTED_SINCE_CLEAR)
                or stored.age >= FORGOTTEN_AFTER
            ):
                del self.stored[code]
            else:
                stored.status = stored.status & ~(FAILED | FAILED_THIS_CYCLE) | NOT_TESTED_THIS_CYCLE
                stored.waits = False

    def judge(self, failing: Mapping[str, bool], *, key_s: float, running_s: float) -> None:
        """Test everything that can be tested now.

        Args:
            failing: codes that fail by what the controller sees, to whether they are hard.
            key_s: seconds since key-on.
            running_s: seconds the engine has run, 0 while it does not.
        """
        now = {**failing, **self.wanted}
        for code, hard in now.items():
            if code not in self.stored and self._testable(hard, key_s, running_s):
                self.stored[code] = Stored(hard=hard)
        for code, stored in self.stored.items():
            stored.hard = now.get(code, stored.hard)
            if (stored.waits and stored.hard) or not self._testable(stored.hard, key_s, running_s):
                continue
            if code in now:
                self._fail(stored)
            else:
                stored.status &= ~(FAILED | CLEARED)

    @staticmethod
    def _testable(hard: bool, key_s: float, running_s: float) -> bool:  # noqa: FBT001 (one fact of a code)
        return key_s >= KEY_TEST_S if hard else running_s >= RUNNING_TEST_S

    def _fail(self, stored: Stored) -> None:
        if not stored.status & FAILED:
            stored.count = min(255, stored.count + 1)
        if not stored.status & FAILED_THIS_CYCLE:
            stored.trips += 1
        if not stored.snapshot:
            stored.snapshot = self._snapshot()
        stored.age = 0
        stored.status &= ~CLEARED
        stored.status |= FAILED | FAILED_THIS_CYCLE | PENDING | FAILED_SINCE_CLEAR
        if stored.trips >= NEEDED_TRIPS:
            stored.status |= CONFIRMED

    def clear(self) -> None:
        """Forget all; what was stored stays listed as not tested, and is judged after the next key-on."""
        for code, stored in self.stored.items():
            self.stored[code] = Stored(waits=True, hard=stored.hard)

    def status(self, code: str) -> int:
        """Status byte of a supported code; one that is not stored was tested and is sound."""
        stored = self.stored.get(code)
        return 0 if stored is None else stored.status

    def listed(self, mask: int) -> list[str]:
        """Stored codes with a status bit in the mask."""
        return [code for code, stored in self.stored.items() if stored.status & mask]

    def said(self) -> list[dict[str, object]]:
        """For the control socket."""
        return [
            {
                "code": code,
                "status": stored.status,
                "count": stored.count,
                "age": stored.age,
                "there": bool(stored.status & FAILED),
                "confirmed": bool(stored.status & CONFIRMED),
                "hard": stored.hard,
            }
            for code, stored in self.stored.items()
        ]
