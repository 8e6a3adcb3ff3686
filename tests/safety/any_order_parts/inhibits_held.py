"""Fuel or spark held off: what a person does, what the engine does meanwhile, how a controller fails it."""

from any_order_parts.fingers import INHIBITED
from any_order_parts.machine import QUIET_MS, rule
from any_order_parts.tools import Tools


class InhibitsHeld(Tools):
    def hold_off(self, output):
        """The finger is down, and the glass shows it from now on."""
        self.press(output)
        self.bench.watching = self.last_press

    @rule(8, output=INHIBITED, held=(0.0, 0.01, 0.02, 0.1, 0.5, 0.5), lifted=(True, True, False))
    def hold_off_as_an_honest_hand_does(self, output, held, lifted):
        """So that it is often read back: everything made ready first."""
        self.make_fit(output)
        self.hold_off(output)
        self.wait(held)
        if lifted:
            self.lift("lift")

    @rule(6, output=INHIBITED)
    def hold_off_whatever_is_missing(self, output):
        if not self.busy:
            self.hold_off(output)

    @rule(4)
    def it_is_ended_on_the_glass(self):
        self.end_inhibit()
        self.tick()

    @rule(3, seconds=(1.0, 2.5, 3.3))
    def the_glass_is_away(self, seconds):
        press, self.bench.watching = self.bench.watching, None
        self.wait(seconds, ms=20)
        self.bench.watching = press

    @rule(12, rpm=(250.0, 250.0, 40.0), by=("both", "both", "both", "one", "two"), seconds=(0.02, 0.3, 1.5))
    def crank(self, rpm, by, seconds):
        self.bench.values["StartSwitch"] = "Pressed"
        self.engine(rpm, by)
        self.wait(seconds)

    @rule(10, seconds=(0.0, 0.3, 1.5, 2.2))
    def the_switch_is_let_go_of_and_the_engine_runs_down(self, seconds):
        self.bench.values["StartSwitch"] = "Released"
        self.wait(0.1)
        self.bench.values |= {"EngineSpeed": 0.0, "EngineSpeedDisplay": 0.0}
        self.wait(seconds)

    @rule(3)
    def the_engine_fires_up(self):
        """Though something is held off, for a moment."""
        self.engine(1300.0, "both")
        self.bench.values["StartSwitch"] = "Released"
        self.wait(0.5)

    @rule(6, how=("drops", "lies", "refuses", "busy", "pending", "mute", "mute to reads"))
    def the_controller_fails_it(self, how):
        controller = self.bench.controller
        if how == "drops":
            controller._all_off(self.now)
        elif how == "lies":
            controller.forgets = True
        elif how == "refuses":
            controller.refuses[0x22] = 0x31
        elif how == "busy":
            controller.refuses[0x22] = 0x21
        elif how == "pending":
            controller.pending.add(0x22)
        elif how == "mute":
            controller.mute = True
        else:
            controller.mutes = {0x22}
        self.wait(1.1, ms=20)

    @rule(2)
    def nobody_is_signed_in(self):
        self.sign_in("", "")

    @rule(1, seconds=(10.0, 30.0))
    def it_is_held_on(self, seconds):
        if self.holding:
            self.quiet_time(seconds)

    def quiet_time(self, seconds):
        """Nothing happens; each message is heard once a turn."""
        until = self.now + seconds
        self.bench.hurried = True
        while self.busy and self.now < until:
            self.tick(QUIET_MS)
        self.bench.hurried = False
