"""The bus at its worst, for the gate: a second sender, frames doubled or disordered, floods, strange answers.

Whatever comes, nothing moves longer than its bound, nothing is called known that is not, and no exception
ends the gate's loop.
"""

import random

import can
import pytest

from bus.adapter import Adapter
from bus.frame import EXTENDED, Frame
from bus.wire import DRAIN, open_wire

SPEED, DISPLAY = "EngineFast", "DisplayMain"


def doubled(bench, name, *, values=None, copies=1):
    """From here on a second node sends this message too, with these values."""
    honest = bench.broadcast

    def both():
        frames = honest()
        more = []
        for frame in frames:
            if frame.ident == bench.ident_of(name):
                more += [bench.frame_of(name, values) or frame] * copies
        return [*frames, *more]

    bench.broadcast = both


@pytest.fixture
def ready(make_bench, craft_kit):
    """A bench that is ready, and can make a frame of any message."""
    made = make_bench().make_ready()

    def frame_of(name, values):
        if values is None:
            return None
        told = {**made.values, "AliveCounter": made.ms // 50 % 16, **values}
        return Frame(made.clock(), *craft_kit.encoded(name, tuple(sorted(told.items()))))

    made.frame_of = frame_of
    made.ident_of = lambda name: craft_kit.encoded(name, ())[0]
    return made


def seen(bench, need):
    return bench.facts.facts(bench.clock())[need]


@pytest.mark.parametrize("name", [SPEED, DISPLAY])
def test_a_second_sender_of_an_engine_speed_is_noticed_and_nothing_is_fired_beside_it(ready, name):
    doubled(ready, name)  # it says what the craft says: zero
    ready.run(2.1)
    ready.press("fan")
    ready.run(0.3)
    assert ready.state.phase == "refused"
    assert "speed_known" in ready.missing()
    assert "two senders" in seen(ready, "speed_known").seen
    assert ready.controller.moves == []


def test_a_second_sender_that_says_zero_over_an_engine_that_turns_is_not_believed_for_a_moment(ready):
    ready.values |= {"EngineSpeed": 900.0, "EngineSpeedDisplay": 900.0}
    doubled(ready, SPEED, values={"EngineSpeed": 0.0})
    doubled(ready, DISPLAY, values={"EngineSpeedDisplay": 0.0})
    ready.run(0.1)  # until the craft has said it
    for _ in range(60):
        ready.press("fan")
        ready.run(0.05)
        assert ready.state.phase == "refused"
        ready.lift()
    assert ready.controller.moves == []


def test_it_ends_an_output_that_is_live(ready):
    ready.live("fan")
    doubled(ready, SPEED, copies=3)
    ready.until(lambda: not ready.controller.live(), 2.5)
    assert "two senders" in ready.state.cause


def test_once_it_is_gone_it_fires_again(ready):
    honest = ready.broadcast
    doubled(ready, SPEED)
    ready.run(2.5)
    ready.broadcast = honest
    ready.run(2.2)
    assert seen(ready, "speed_known").holds is True
    ready.confirm("hands_clear")
    ready.live("fan")


def test_a_standstill_of_this_machine_is_no_second_sender(ready):
    for pause in (0.3, 0.5, 0.5):
        ready.ms += round(pause * 1000)  # what was sent meanwhile comes at once
        ready.run(1.0)
        assert "two senders" not in seen(ready, "speed_known").seen


def test_frames_out_of_their_order_and_twice_never_make_an_output_live_beside_a_turning_engine(ready):
    chance = random.Random(4)
    honest, kept = ready.broadcast, []

    def disordered():
        kept.extend(honest())
        chance.shuffle(kept)
        out = [kept.pop() for _ in range(len(kept) // 2)]
        return out + [frame for frame in out if chance.random() < 0.2]

    ready.broadcast = disordered
    for speed in (0.0, 300.0, 0.0, 900.0, 0.0):
        ready.values |= {"EngineSpeed": speed, "EngineSpeedDisplay": speed}
        ready.run(0.4)
        ready.press("horn")
        ready.run(0.8)
        if speed > 0:
            assert not ready.controller.live()
        ready.lift()
        ready.run(0.7)
    assert not ready.controller.live()


def test_a_flood_of_strangers_frames_delays_nothing_and_opens_nothing(ready):
    """A full bus of 500 kbit/s: some 40 frames in the 10 ms of a turn; here three times as many."""
    chance = random.Random(5)
    honest = ready.broadcast
    known = {ready.ident_of(name) for name in (SPEED, DISPLAY)}

    def flooded():
        noise = []
        for _ in range(120):
            ident = chance.choice((chance.randrange(0x7DF), EXTENDED | chance.randrange(0x1FFFFFFF)))
            if ident not in known and not 0x120 <= ident <= 0x330:
                noise.append(Frame(ready.clock(), ident, chance.randbytes(chance.randrange(9))))
        return [*noise, *honest()]

    ready.broadcast = flooded
    ready.live("fan")
    ready.run(1.0)
    assert ready.controller.live()
    ready.lift()
    ready.turn()
    ready.turn()
    assert not ready.controller.live()
    ready.run(1.0)
    assert ready.state.phase == "ended"


YES = {
    "a yes to nobody's start": "066fd12103050000",
    "a yes to another output": "066fd12203050000",
    "a refusal of what was not asked": "037f310000000000",
    "pending for ever": "037f2f7800000000",
    "a first frame that never goes on": "1014620102030405",
    "flow control: wait": "3100000000000000",
    "flow control: overflow": "3200000000000000",
    "nothing": "",
    "a length that is a lie": "0f00000000000000",
}


@pytest.mark.parametrize("what", YES, ids=[what.replace(" ", "_").replace(":", "") for what in YES])
@pytest.mark.parametrize("when", ["before", "live", "releasing"])
def test_answers_that_nobody_asked_for_move_nothing_and_claim_nothing(ready, what, when):
    data = bytes.fromhex(YES[what])
    if when == "before":
        ready.extra += [(0x7E8, data)] * 3
        ready.run(0.5)
        assert ready.controller.moves == []
        assert ready.state is None or ready.state.phase in (None, "not_confirmed")
        return
    ready.live("fan")
    if when == "releasing":
        ready.controller.mute = ready.controller.stubborn = True
        ready.lift()
    for _ in range(30):
        ready.extra.append((0x7E8, data))
        ready.turn()
    if when == "live":
        ready.lift()
        ready.run(0.6)
        assert not ready.controller.live()
    else:
        ready.until(lambda: not ready.actuation.busy, 12.0)
        assert ready.state.phase == "not_confirmed"  # no stranger's yes is the end of it


class Errors:
    """A bus of which the driver hands over error frames without end."""

    asked = 0

    def __init__(self, **_options):
        pass

    def recv(self, _timeout):
        Errors.asked += 1
        return can.Message(is_error_frame=True)

    def shutdown(self):
        pass


@pytest.fixture
def errors_only(monkeypatch):
    monkeypatch.setattr(can, "Bus", Errors)
    monkeypatch.setattr(Errors, "asked", 0)
    return open_wire(Adapter("virtual", "x"), None, listen_only=False)


def test_error_frames_without_end_do_not_keep_the_gate_at_the_wire(errors_only):
    assert errors_only.receive(0.01) == []
    assert errors_only.bad == Errors.asked == DRAIN


def test_error_frames_without_end_end_an_output_that_is_live(ready, errors_only):
    ready.live("fan")
    sent = ready.wire.send
    ready.gate._wire = errors_only
    errors_only.send = sent
    for _ in range(60):
        ready.ms += 10
        ready.beat()
        ready.gate._pass_on(0)
    ready.controller.tick()
    assert not ready.controller.live()
    ready.lift()
