"""One output: what is missing, the cautions, arming it, and how the press went."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app import inhibit_words, output_words
from app.bench import Stage
from app.bench_words import technicians
from app.interlock import Need
from app.output_messages import Confirm
from app.output_words import (
    PROMISED,
    cautions,
    cautions_with,
    instead_lines,
    is_promise,
    labels,
    need_lines,
    promise_lines,
    size_words,
)
from app.output_words import Line as Words
from screens.sheet import KEYS, Sheet
from screens.widgets.hold import ArmKey
from screens.widgets.key import Key

if TYPE_CHECKING:
    from types import ModuleType

    from app.board import Board
    from app.output_messages import NeedState, OutputInfo
    from screens.actions import Actions


TOGETHER = KEYS - 2
"""Promises that can be asked for at a time: Back and Leak seen have their places."""


def _words(info: OutputInfo) -> ModuleType:
    """The words of this kind of output."""
    return inhibit_words if inhibit_words.is_inhibit(info) else output_words


class OutputPage(Sheet):
    """Of the output that the bench has chosen."""

    name = "bench/output"

    def __init__(self, actions: Actions, **kwargs):
        self._actions = actions
        self._bench = actions.bench
        super().__init__(**kwargs)
        self._back = Key(text="Back", action=self._leave)
        self._again_key = Key(text="Once more", action=self._bench.again)
        self._leak = Key(text="Leak seen", action=lambda: self._confirm("leak_seen"))
        self._promises = {
            need: Key(text=text, action=lambda what=what: self._confirm(what))
            for need, (what, text) in PROMISED.items()
        }
        self._people = [
            Key(text=f"Sign in\n{person.name}", action=lambda person=person: actions.sign_in(person))
            for person in technicians()
        ]
        self._arm = ArmKey(
            text="Hold 1 s\nto arm",
            began=lambda: self._bench.arm_begins(actions.clock()),
            ended=lambda _cause: self._bench.arm_ends(),
        )

    def show(self, board: Board) -> None:
        """See Page."""
        self.topic = ""
        bench, info = self._bench, self._bench.info
        if info is None:
            self.fill("The craft is not heard", [Words("Its outputs are known when it is.")], [self._back])
        elif bench.stage is Stage.ENDED:
            told = bench.state if bench.state is not None and bench.told else None
            words = _words(info)
            lines = words.result_lines(info, told, bench.trouble)
            self.name = "bench/result"
            self.fill(words.result_title(info, told), lines, [self._back, self._leak, None, self._again_key])
        else:
            state = bench.state
            self.name = "bench/needs"
            if state is not None and state.output == info.key and board.moment.heard:
                self._before(info, state.needs)
            else:
                other = None if state is None else labels(bench.outputs).get(state.output)
                lines = instead_lines(state, other, heard=board.moment.heard)
                self.fill(f"{info.label} will not fire yet", lines, [self._back])

    def sweep(self, board: Board) -> None:
        """See Page."""
        del board
        self._arm.share = self._bench.arming(self._actions.clock())

    def _before(self, info: OutputInfo, needs: list[NeedState]) -> None:
        missing = [need for need in needs if need.holds is not True]
        hard = [need for need in missing if not is_promise(need)]
        if hard:
            people = self._people if any(need.need == Need.ROLE for need in missing) else []
            self.fill(
                f"{info.label} will not fire yet", need_lines(missing), [self._back, self._leak, *people]
            )
            return
        title = f"{info.label}: {size_words(info)}"
        if missing:
            self.name = "bench/cautions"
            self._ask_for(info, title, needs, missing)
            return
        self.name = "bench/ready"
        self.fill(title, _words(info).ready_lines(info, needs), [self._back, self._leak, None, self._arm])

    def _ask_for(
        self, info: OutputInfo, title: str, needs: list[NeedState], missing: list[NeedState]
    ) -> None:
        """What a person must say; where the keys have no room together, one after another."""
        self.topic = " ".join(need.need for need in missing)
        total = len([need for need in needs if is_promise(need)])
        lines = [*cautions(info), *promise_lines(needs)]
        if total > TOGETHER:
            title = f"{info.label}: confirm {total - len(missing) + 1} of {total}"
            missing = missing[:1]
            lines = [*need_lines(missing), *cautions_with(info, Need(missing[0].need))]
        asked = [self._promises[Need(need.need)] for need in missing]
        self.fill(title, lines, [self._back, self._leak, *asked])

    def _confirm(self, what: str) -> None:
        self._actions.ask(Confirm(what, self._actions.clock()))

    def _leave(self) -> None:
        self._bench.leave()
        self._actions.open("bench")
