"""A hand at the bench: touches, what the bus side says of them, and what was asked of it."""

from __future__ import annotations

from msgspec import structs

from app.bench import ARM_S, Bench, Stage
from app.messages import LinkState
from app.output_messages import OutputState, Phase, Press


class Hand:
    """A bench with these outputs, the first of which is chosen, and a clock."""

    def __init__(self, make, *outputs):
        self.asked = []
        self.make = make
        self.bench = Bench(self.asked.append)
        self.outputs = list(outputs)
        self.now = make.now
        self.state = None
        self.link = LinkState.FOUND
        self.silent = False

    def tick(self, seconds=0.05):
        self.now += seconds
        view = self.make.view(state=self.link)
        snapshot = structs.replace(
            view.snapshot, at=self.now - (9.0 if self.silent else 0.0), output=self.state
        )
        catalogue = view.catalogue and structs.replace(view.catalogue, outputs=self.outputs)
        view = structs.replace(view, snapshot=snapshot, catalogue=catalogue)
        self.bench.take(self.make.moment(view, now=self.now), self.now, self.now - 0.03)
        return self.bench.stage

    def ticks(self, seconds):
        for _ in range(round(seconds / 0.05)):
            self.tick()
        return self.bench.stage

    def says(self, phase=None, *, ready=True, press=0, output=None, needs=(), **more):
        """The bus side says where a press stands."""
        key = self.outputs[0].key if output is None else output
        self.state = OutputState(key, press, phase, self.now, list(needs), ready=ready, **more)
        return self.tick()

    def armed(self):
        self.bench.choose(self.outputs[0].key, self.now)
        assert self.says() is Stage.READY
        self.bench.arm_begins(self.now)
        self.tick(ARM_S + 0.01)
        self.bench.arm_ends()
        assert self.tick() is Stage.ARMED

    def held(self):
        """The press, which the bus side calls live."""
        self.armed()
        self.bench.pressed(self.now)
        press = self.asked_for(Press)[-1]
        assert self.says(Phase.LIVE, press=press.press) is Stage.HELD
        return press

    def asked_for(self, kind):
        return [one for one in self.asked if isinstance(one, kind)]
