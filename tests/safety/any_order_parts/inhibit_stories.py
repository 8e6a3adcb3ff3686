"""One story for each cause that gives back an inhibit which was read back."""

import dataclasses
from collections.abc import Callable

from any_order_parts.holds import LONGEST_S
from any_order_parts.judge import INHIBITS


@dataclasses.dataclass(frozen=True)
class HeldStory:
    """What happens.

    Attributes:
        provoke: the cause, until it has had its effect.
        mend: everything as it was, before the engine stands still.
    """

    provoke: Callable
    mend: Callable = lambda machine: None


def page(machine):
    machine.open_page("fan")


def ended(machine):
    machine.end_inhibit()
    machine.tick()


def glass_gone(machine):
    machine.bench.watching = None
    machine.wait(3.1, ms=20)


def time_over(machine):
    machine.engine_stands_again()
    for hold in machine.holds.under_way.values():
        machine.quiet_time(hold.since + LONGEST_S - machine.now - 0.3)
        break
    machine.wait(0.5, ms=20)


def signed_out(machine):
    machine.sign_in("", "")


def another_tester(machine):
    machine.another_tester()


def dropped(machine):
    """By itself, or with its session; it says so."""
    controller = machine.bench.controller
    held = sorted(controller.live() & INHIBITS)
    controller._all_off(machine.now)
    pdus = [b"\x6f" + did.to_bytes(2, "big") + b"\x00" for did in held]
    if machine.counts["held: dropped", True] % 2:
        controller.session = 1
        pdus = [bytes.fromhex("5001003201f4")]
    for pdu in pdus:
        controller.answers.append((machine.now, (bytes([len(pdu)]) + pdu).ljust(8, b"\x00")))
    machine.wait(0.1)


def until_it_ends(machine, seconds):
    machine.until(lambda: not machine.busy or machine.bench.state.ending, seconds)


def says_00(machine):
    machine.bench.controller.forgets = True
    until_it_ends(machine, 1.2)
    machine.bench.controller.forgets = False


def mute(machine):
    machine.bench.controller.mute = True
    until_it_ends(machine, 2.3)
    machine.bench.controller.mute = False


def does_not_say(machine):
    """It refuses to be read."""
    machine.bench.controller.refuses[0x22] = 0x31
    until_it_ends(machine, 2.3)
    machine.bench.controller.refuses.clear()


def wire_goes(machine):
    machine.the_wire_goes()


def wire_back(machine):
    machine.the_wire_is_back(0.1)


HELD_STORIES = {
    "held: ended": HeldStory(ended),
    "held: glass gone": HeldStory(glass_gone),
    "held: time over": HeldStory(time_over),
    "held: another tester": HeldStory(another_tester, lambda machine: machine.wait(5.2, ms=20)),
    "held: operator": HeldStory(signed_out, lambda machine: machine.sign_in("Kim", "technician")),
    "held: page": HeldStory(page),
    "held: dropped": HeldStory(dropped),
    "held: says 00": HeldStory(says_00),
    "held: mute": HeldStory(mute),
    "held: wire lost": HeldStory(wire_goes, wire_back),
    "held: second press": HeldStory(
        lambda machine: machine.press("horn"), lambda machine: machine.lift("lift")
    ),
    "held: leak": HeldStory(lambda machine: machine.see_a_leak()),
    "held: another craft recognised": HeldStory(
        lambda machine: machine.a_craft_is_recognised_anew(), lambda machine: machine.wait(2.6, ms=20)
    ),
    "held: does not say": HeldStory(does_not_say),
}
