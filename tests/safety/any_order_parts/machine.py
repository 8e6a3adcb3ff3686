"""The bench under a judge: one turn, and everything that is looked at after each."""

from any_order_parts.causes import held_named, named, none_yet
from any_order_parts.holds import Holds
from any_order_parts.judge import (
    COIL,
    FINITE_S,
    FUEL,
    HEARD_WITHIN,
    INHIBITS,
    INJECTORS,
    KEYS,
    LIFTED_S,
    LONGEST_S,
    ONCE,
    OWN_WORDS,
    PROVED,
    SLACK_S,
    SPARK_OFF,
    WORDS_S,
    Judge,
    demand,
)
from app.errors import AdapterLost

QUIET_MS = 90
"""One turn while nothing happens, of a loop that is not late yet."""

SILENCES = ("EngineFast", "DisplayMain", "EngineFluids", "EngineSwitches", "EngineAir", "all")


def rule(weight=10, **choices):
    """A step of the machine: how often it is drawn, and from what each of its arguments is drawn."""

    def mark(step):
        step.rule = (weight, choices)
        return step

    return mark


class Machine:
    """What can be done is in the classes that add rules to it; here is what is looked at after every turn.

    Attributes:
        counts: what ended presses, and how much was done.
        ends: phases of the glass that were seen.
        kinds: outputs that were started.
        cranked_out: how often a crank counted as a purge.
    """

    def __init__(self, make_bench):
        self.make_bench = make_bench
        self.bench = make_bench().make_ready()
        self.judge = Judge()
        self.holds = Holds(self.judge, self.now)
        self.judge.said_at = {"no_smell": self.now, "hands_clear": self.now}
        self.judge.bad["finger"] = 0.0
        self.counts, self.ends, self.kinds, self.cranked_out = none_yet(), set(), set(), 0
        self.endings = []
        self.wired = self.heard = self.told = 0
        self.live_before = set()
        self.first_start, self.press_of = {}, {}
        self.pressed_at, self.touched_before, self.touched_at = {}, {}, -1e9
        self.last_press = 0
        self.operator = ("Kim", "technician")
        self.releasing_since = None
        self.dawdled = False
        self.stalled, self.turn_ms, self.purges = 0.0, 5, 0
        self.born_at, self.born_deaf, self.deaf_until = -1e9, False, -1e9
        self.wire_gone = False
        self.swapped, self.serial_before = -1e9, PROVED

    @property
    def craft(self):
        """The craft that can have been heard by now; the page with its serial comes every 100 ms."""
        return self.serial_before if self.now - self.swapped <= 0.1 + SLACK_S else self.bench.serial

    @property
    def now(self):
        return self.bench.clock()

    @property
    def busy(self):
        return self.bench.actuation.busy

    @property
    def dawdles(self):
        """The controller asks for time, or works on a start."""
        controller = self.bench.controller
        return bool(controller.pending or controller.work) or controller.slow_s is not None

    # --- time -------------------------------------------------------------------------------------------

    def tick(self, ms=5):
        bench, self.turn_ms = self.bench, ms
        self.counts["turns"] += 1
        coming = self.coming()
        if self.stalled > 0.1:
            self.holds.event("hang", self.now)
        if self.wire_gone:
            bench.ms += ms
            bench.journal.sync()
        else:
            try:
                bench.turn(ms)
            except AdapterLost:
                self.holds.wire_went()
                bench.gate._let_go()
                self.wire_gone = True
                self.judge.open.clear()  # what can be sent no more is looked at in what is claimed
        bench.actuation = bench.gate._actuation or bench.actuation
        if bench.finger is not None and bench.ms % 50 < ms and not self.wire_gone:
            self.touched_at = self.now  # as of the beat
        self.follow(coming)
        self.check()

    def coming(self):
        """Answers on their way; what is read back while nothing can be heard comes to nobody."""
        controller = self.bench.controller
        if self.wire_gone or "all" in self.bench.silent:
            controller.answers = [entry for entry in controller.answers if entry[1][1] != 0x62]
            return []
        return list(controller.answers)

    def wait(self, seconds, ms=10):
        until = self.bench.ms + round(seconds * 1000)
        while self.bench.ms < until:
            self.tick(min(until - self.bench.ms, ms if ms < 20 or not self.busy else 20))

    def event(self, cause):
        """Something that ends whatever is under way has just happened."""
        self.judge.event(cause, self.now, self.last_press)
        self.holds.event(cause, self.now)

    def mark(self, cause, *, bad=True):
        self.judge.mark(cause, self.now, bad=bad)

    # --- what follows from how the craft is -------------------------------------------------------------

    def follow(self, coming):
        judge, values, silent, now = self.judge, self.bench.values, self.bench.silent, self.now
        judge.mark("engine", now, bad=values["EngineSpeed"] > 0)
        judge.mark("display", now, bad=values["EngineSpeedDisplay"] > 0)
        judge.mark("lanyard", now, bad=values["Lanyard"] != "In place")
        judge.mark("start", now, bad=values["StartSwitch"] != "Released")
        judge.mark("battery", now, bad=values["BatteryVoltage"] < 11.8)
        judge.mark("manifold", now, bad=abs(values["ManifoldPressure"] - values["BarometricPressure"]) > 4)
        judge.mark("serial", now, bad=self.bench.serial != PROVED)
        judge.mark("pump", now, bad=values.get("FuelPumpRelay", "Off") != "Off")
        for name in SILENCES:
            judge.mark(name, now, bad=name in silent)
        if judge.turning(now):
            judge.turned_at = now
        running = min(values["EngineSpeed"], values["EngineSpeedDisplay"]) > 500
        judge.slow_since = None if running else judge.slow_since or now
        if running:
            judge.ran_since = judge.ran_since or now
        elif now - judge.slow_since > 0.1 + SLACK_S:  # as above: a shorter dip may not have been heard
            judge.ran_since = None
        long = [cause for cause in ("engine", "display", "serial") if cause in judge.overdue(now, 0.2)]
        away = [name for name in ("EngineFast", "all") if now - judge.bad.get(name, now) > 0.7]
        if (long and not silent) or away:
            judge.said_at.clear()
        slower, faster = sorted((values["EngineSpeed"], values["EngineSpeedDisplay"]))
        cranked = slower > 150 and faster <= 500 and SPARK_OFF not in self.live_before
        judge.crank_began = (judge.crank_began or now) if cranked else None
        if cranked and now - judge.crank_began >= 5.0 - 0.1 - SLACK_S:
            judge.cranked_at = now
        elif faster > 500 or SPARK_OFF in self.live_before:
            judge.cranked_at = None
        self.born_deaf = self.born_deaf and "all" in silent
        if self.born_deaf:  # it knows of no craft to release anything on; what is finite ends by itself
            self.deaf_until = now + HEARD_WITHIN["process"] + SLACK_S
        self.follow_purges()
        self.follow_holds(coming)

    def follow_purges(self):
        """Half a minute of running, in whatever step it came about, burns off what tests have left."""
        before, self.purges = self.purges, len(self.bench.purged)
        if self.purges > before:
            ran_since = self.judge.ran_since
            demand(ran_since is not None and self.now - ran_since >= 29.9, "purged by no run")
            self.judge.fuel.pop(self.craft, None)

    def follow_holds(self, coming):
        bench, holds, now = self.bench, self.holds, self.now
        left = bench.controller.answers
        for at, data in coming:
            if not self.wire_gone and (at, data) not in left:
                holds.answered(data[1 : 1 + data[0]], now if self.stalled else at, now)
        ms = round(self.turn_ms)
        if bench.watching is not None and bench.ms % 1000 < ms and not self.wire_gone:
            holds.seen_on_the_glass(bench.watching, now)
        swapped = now - self.swapped <= 0.1 + SLACK_S or "process" in self.judge.bad
        holds.follow(now, self.stalled, disturbed=swapped, wire_gone=self.wire_gone)

    # --- what is looked at ------------------------------------------------------------------------------

    def check(self):
        bench, judge, now = self.bench, self.judge, self.now
        holding = {did for did in self.live_before & INHIBITS if now - bench.controller.carried[did] > 0.05}
        for at, _, data in bench.sent[self.wired :]:
            pdu = data[1 : 1 + data[0]]
            if pdu[0] == 0x2F:
                judge.sent(int.from_bytes(pdu[1:3], "big"), at, start=pdu[3] == 3)
            self.holds.frame(pdu, at, self.stalled, holding)
        self.wired = len(bench.sent)
        new, self.heard = bench.controller.heard[self.heard :], len(bench.controller.heard)
        for at, pdu in new:
            known = pdu in (b"\x10\x03", b"\x10\x01") or pdu[0] in (0x22, 0x2F)
            demand(known, "never to be sent here", pdu)
            if pdu[0] == 0x2F and pdu[3] == 3:
                self.started(int.from_bytes(pdu[1:3], "big"), at)
        judge.look(now, self.stalled, self.last_press)
        self.check_what_moves(bench.controller.live())
        self.count_endings()
        self.check_claims()
        self.stalled = 0.0

    def check_what_moves(self, live):
        bench, judge, now = self.bench, self.judge, self.now
        for did in self.live_before - live:
            if did in FUEL:
                judge.fuel_ended[self.craft] = now
                judge.said_at.pop("no_smell", None)
            elif did == COIL:
                judge.spark_ended[self.craft] = now
        self.live_before = live
        controller = bench.controller
        live = live - INHIBITS  # held until it is given back: see holds
        willing = not (controller.deaf or controller.stubborn or controller.refuses or self.dawdles)
        for did in live:
            demand(now - controller.carried[did] <= FINITE_S[did] + SLACK_S, "it does not end by itself")
            old = controller.carried[did] < self.born_at and now <= self.deaf_until
            if willing and not self.wire_gone and not old:
                causes = judge.overdue(now, self.stalled, did)
                demand(not causes, "it moves in spite of", causes, KEYS[did])
                longest = LONGEST_S[did] + SLACK_S + self.stalled
                demand(now - self.first_start[did] <= longest, "it moves for too long", KEYS[did])

    def check_claims(self):
        bench, now = self.bench, self.now
        state = bench.state
        phase = None if state is None or state.phase is None else str(state.phase)
        if phase is not None:
            self.ends.add(phase)
        dids = {did for did, key in KEYS.items() if state is not None and key == state.output}
        demand(phase != "ended" or not self.live_before & dids, "it is called ended, and it moves")
        demand(phase != "not_confirmed" or bench.actuation.locked, "not confirmed, and not locked")
        self.holds.claims(state, phase, now, self.live_before)
        self.holds.look(now, self.stalled, state, phase)
        gone = phase in ("starting", "live", "latched", "releasing") and self.wire_gone
        demand(not gone, "the wire is gone, and the glass says", phase)
        if phase != "releasing" or not self.busy or self.wire_gone:
            self.releasing_since, self.dawdled = None, False
        elif self.releasing_since is None:
            self.releasing_since = now
        else:
            self.releasing_since += self.stalled
            self.dawdled = self.dawdled or self.dawdles
            # who asks for time has 6 s after the start; a start that comes then is released all over again
            longest = 6.0 + 2 * 1.5 if self.dawdled else 1.5
            demand(now - self.releasing_since <= longest + 2 * SLACK_S, "it releases for too long")

    def count_endings(self):
        told = self.bench.journal.told
        for entry in told[self.told :]:
            hold = self.holds.told(entry["kind"], entry["body"])
            if hold is not None and hold.held and entry["kind"] in ("inhibit_ending", "output_end"):
                ending = held_named(entry["body"]["cause"])
                demand(ending in hold.causes, "given back for", ending, "and there was", hold.causes)
                if entry["kind"] == "output_end":
                    self.endings.append(ending)
                    self.counts[ending, True] += 1
            elif entry["kind"] == "output_end":
                ending = named(entry["body"]["cause"])
                if ending == "stale" and "all" in self.bench.silent:
                    ending = "silence of the craft"  # whichever message was missed first
                if ending == "a word lapsed" and self.bench.values.get("FuelPumpRelay") == "On":
                    ending = "fuel pump"  # it voids the word that no fuel is smelt
                self.endings.append(ending)
                self.counts[ending, entry["body"]["fired"]] += 1
        self.told = len(told)

    def started(self, did, at):
        """A start was heard: the table of the safety notes, row by row."""
        bench, judge = self.bench, self.judge
        self.counts["starts"] += 1
        self.kinds.add(did)
        causes = judge.overdue(at, self.stalled, did)
        demand(not causes, "started in spite of", causes, KEYS[did])
        demand("process" not in judge.bad, "started before the craft was heard afresh")
        demand(at - judge.turned_at >= 2.0, "the engine stood for", at - judge.turned_at)
        demand(at - judge.tester_at > 5.0, "another tester was heard")
        demand(self.craft in judge.pulled, "the lanyard was not seen pulled")
        charged = [body for body in bench.journal.of("output_start") if body["output"] == KEYS[did]]
        demand(charged, "started without a charge on the disk")
        press = charged[-1]["press"]
        demand(press == bench.actuation._run.press, "charged for another press")
        demand(charged[-1]["craft"] == f"auk {self.craft}", "charged to another craft")
        until, cause = judge.dead.get(press, (at, ""))
        demand(at <= until + self.stalled, "a press that was over starts: ", cause)
        away = self.pressed_at[press] - self.touched_before[press]
        demand(away >= LIFTED_S, "the finger was away for", away)
        again, self.press_of[did] = self.press_of.get(did) == press, press
        demand(not (again and did in ONCE), "fuel or spark asked for twice in one press")
        smell = (
            () if again and did in FUEL else ("no_smell",)
        )  # what it lets in itself is not held against it
        for word in (*smell, *OWN_WORDS.get(did, ())):
            demand(word in judge.said_at, "nobody said", word)
            demand(at - judge.said_at[word] <= WORDS_S[word] + SLACK_S, "said too long ago", word)
        vented = at - judge.fuel_ended.get(self.craft, -1e9) >= 240.0 - SLACK_S
        demand(vented or not smell, "not vented")
        fuel = judge.fuel.setdefault(self.craft, {})
        demand(did != COIL or not fuel, "a spark with test fuel in a cylinder")
        if did in INJECTORS:
            demand(at - judge.spark_ended.get(self.craft, -1e9) >= 240.0 - SLACK_S, "fuel after a spark")
        demand(not (bench.controller.live() - {did}), "two at once")
        if again:
            return
        self.first_start[did] = at
        if did in INHIBITS:
            self.holds.started(did, press, at)
        if did == SPARK_OFF:
            fuel[did] = 4.0  # nobody can tell how much is sprayed: all that is allowed
        if did in INJECTORS:
            fuel[did] = fuel.get(did, 0.0) + 0.5  # 20 x 5 ms at 5 cm3/s
            demand(fuel[did] <= 3.0 + 1e-9, "too much fuel in a cylinder")
            demand(sum(fuel.values()) <= 4.0 + 1e-9, "too much fuel in the craft")
