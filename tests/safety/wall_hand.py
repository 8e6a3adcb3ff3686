"""The screen's half without a window, as a process: python tests/safety/wall_hand.py RUN DATA ORDERS

It looks at the wall, beats while a finger holds, lets go where it stood still itself, and keeps the craft
book, as the screen process does. It presses what stands in the file ORDERS (JSON: number, output, seconds);
an order that was there before it began, or came while it stood still, is no finger. Beside ORDERS it writes
that it has heard the bus process (its process id in NAME.heard).
"""

import json
import os
import signal
import sys
import time
from pathlib import Path

from app.keeper import BookKeeper
from app.output_messages import Beat, Lift, Press
from app.supervise import die_with_parent
from bus.client import WallClient

TICK_S = 0.05
STOOD_STILL_S = 0.3
"""As screens/hand.py: whether the finger was there meanwhile nobody knows."""


def order_in(path):
    return json.loads(path.read_text()) if path.exists() else {"number": 0}


class Hand:
    def __init__(self, run, data, orders):
        self.orders = orders
        self.client = WallClient(run / "wall")
        self.keeper = BookKeeper(data)
        self.done = order_in(orders)["number"]
        self.press, self.until = None, 0.0
        self.heard = False

    def tick(self, now, late):
        view = self.client.poll()
        self.keeper.saw(view)
        if view.connected and view.snapshot is not None and not self.heard:
            self.heard = True
            place = self.orders.with_suffix(".heard")
            place.with_suffix(".new").write_text(json.dumps({"pid": os.getpid()}))
            place.with_suffix(".new").replace(place)
        order = order_in(self.orders)
        if late:
            self.done = order["number"]
        if self.press is None and order["number"] > self.done:
            self.done, self.press = order["number"], int(now * 1000)
            self.until = now + order["seconds"]
            self.client.ask(Press(order["output"], self.press, now))
        elif self.press is not None and (late or now >= self.until):
            self.client.ask(
                Lift(self.press, "The picture stood still." if late else "The finger was lifted.")
            )
            self.press = None
        elif self.press is not None:
            self.client.ask(Beat(self.press, now))


def main():
    die_with_parent()
    ended = []
    signal.signal(signal.SIGTERM, lambda number, _frame: ended.append(number))
    hand = Hand(*map(Path, sys.argv[1:4]))
    hand.keeper.start()
    before = time.monotonic()
    while not ended:
        now = time.monotonic()
        hand.tick(now, late=now - before > STOOD_STILL_S)
        before = now
        time.sleep(TICK_S)
    hand.client.close()
    hand.keeper.stop()


if __name__ == "__main__":
    main()
