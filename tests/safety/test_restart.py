"""A tool that was killed, a wire that went, another craft: what may be live is released first, and said."""

import pytest

from app.errors import AdapterLost
from app.interlock import Need

RELEASE = {"horn": "042fd12200000000", "fan": "042fd12100000000"}
DEFAULT = "0210010000000000"


def hexed(frames):
    return [data.hex() for data in frames]


def killed_while_live(make_bench, *outputs):
    """The journal of processes that ended with outputs live."""
    entries = []
    for output in outputs:
        entries += make_bench().make_ready().live(output).journal.entries
    return entries


def test_an_output_left_live_is_released_first_after_a_restart(make_bench):
    bench = make_bench(killed_while_live(make_bench, "horn"))
    assert bench.actuation.locked
    bench.controller.open()
    sent = bench.run(1.0)
    assert hexed(sent) == [RELEASE["horn"], DEFAULT]
    assert bench.actuation.locked  # until it is read afresh
    bench.make_ready()
    bench.press("horn")
    bench.run(0.5)
    assert len(bench.sent) == 2
    bench.gate.unlock_outputs()
    bench.turn()
    assert bench.actuation.locked == ""
    assert hexed(make_bench(bench.journal.entries).run(2.0)) == []


def test_several_outputs_left_live_are_released_one_after_the_other(make_bench):
    bench = make_bench(killed_while_live(make_bench, "horn", "fan"))
    bench.controller.open()
    sent = hexed(bench.run(2.0))
    assert sent[0] == RELEASE["horn"]
    assert RELEASE["fan"] in sent


def test_an_output_the_family_no_longer_has_is_released_all_the_same(make_bench, output_plans):
    plans = {key: plan for key, plan in output_plans.items() if key != "horn"}
    bench = make_bench(killed_while_live(make_bench, "horn"), plans=plans)
    bench.controller.open()
    assert RELEASE["horn"] in hexed(bench.run(1.0))


@pytest.mark.parametrize("lost", ["release", "to", "kind"])
def test_an_entry_that_does_not_tell_how_to_release_locks(make_bench, lost):
    entries = killed_while_live(make_bench, "horn")
    del next(entry for entry in entries if entry["kind"] == "output_start")["body"][lost]
    bench = make_bench(entries).make_ready()
    assert bench.actuation.locked
    assert bench.sent == []


def test_a_changed_entry_releases_nothing_but_its_own_output(make_bench):
    entries = killed_while_live(make_bench, "horn")
    next(entry for entry in entries if entry["kind"] == "output_start")["body"]["release"] = "2fd12203"
    bench = make_bench(entries).make_ready()
    assert bench.sent == []
    assert bench.actuation.locked


def test_a_craft_that_does_not_say_its_serial_gets_the_release_once(make_bench):
    bench = make_bench(killed_while_live(make_bench, "horn"), serial=None)
    bench.controller.open()
    sent = hexed(bench.run(10.0))
    assert sent == [RELEASE["horn"], DEFAULT]
    assert bench.actuation.locked
    bench.serial = 20417  # now it says who it is: only now the confirmation is worth something
    bench.controller.open()
    assert hexed(bench.run(1.0)) == [RELEASE["horn"], DEFAULT]
    bench.gate.unlock_outputs()
    bench.turn()
    assert bench.actuation.locked == ""


def test_a_release_that_was_sent_in_vain_is_sent_first_after_the_next_restart_too(make_bench):
    bench = make_bench(killed_while_live(make_bench, "horn"))
    bench.controller.mute = True
    bench.run(3.0)
    assert bench.state.phase == "not_confirmed"
    again = make_bench(bench.journal.entries)
    again.controller.open()
    assert hexed(again.run(1.0)) == [RELEASE["horn"], DEFAULT]


@pytest.mark.parametrize("code", ["7f", "7e"])
def test_an_output_that_the_session_timer_ended_is_confirmed_and_locks_until_read(make_bench, code):
    """ISO 14229-1: in the default session a release is refused, and every control has ended already."""
    bench = make_bench(killed_while_live(make_bench, "horn"))
    if code == "7e":
        bench.controller.refuses[0x2F] = 0x7E
    assert hexed(bench.run(1.0)) == [RELEASE["horn"], DEFAULT]
    assert bench.journal.of("output_end")[-1]["confirmed"] is True
    assert bench.actuation.locked
    bench.gate.unlock_outputs()
    bench.turn()
    assert bench.actuation.locked == ""


def test_a_refusal_of_another_kind_leaves_it_not_confirmed(make_bench):
    bench = make_bench(killed_while_live(make_bench, "horn"))
    bench.controller.refuses[0x2F] = 0x22
    assert hexed(bench.run(3.0))[-1] == DEFAULT
    assert bench.journal.of("output_end")[-1]["confirmed"] is False
    assert bench.state.phase == "not_confirmed"


def test_nothing_is_read_while_a_release_is_owed(make_bench):
    actuation = make_bench(killed_while_live(make_bench, "horn")).actuation
    free = actuation.facts()[Need.OUTPUTS_FREE]
    assert free.holds is False
    assert "released first" in free.seen


def test_a_wire_that_goes_leaves_the_output_not_confirmed_and_owed(ready):
    ready.live("horn")
    ready.wire.fails = AdapterLost("It went away.")
    with pytest.raises(AdapterLost):
        ready.gate._pass_on(0)
    ready.gate._let_go()
    assert ready.state.phase == "not_confirmed"
    assert ready.actuation.locked
    assert not ready.actuation.busy
    ready.finger = None
    ready.ms += 3000
    ready.gate._wire = type(ready.wire)(ready)
    ready.controller.open()
    before = len(ready.sent)
    ready.run(3.0)
    assert hexed(data for _, _, data in ready.sent[before:])[0] == RELEASE["horn"]
    assert ready.actuation.locked


def test_a_wire_that_is_let_go_on_purpose_carries_a_last_release(ready):
    ready.live("horn")
    wire = ready.wire
    ready.gate._let_go()
    assert ready.sent[-1][2].hex() == RELEASE["horn"]
    assert not ready.controller.live()
    assert wire.closed


def test_a_tool_that_ends_releases_and_waits_for_the_answer(ready):
    ready.live("horn")
    honest = ready.gate._pass_on

    def pass_on(timeout_s):
        ready.ms += 5
        return honest(timeout_s)

    ready.gate._pass_on = pass_on
    ready.gate._run_down()
    assert ready.state.phase == "ended"
    assert not ready.controller.live()


def test_a_person_who_names_another_bit_rate_gets_the_release_first(ready):
    ready.live("horn")
    ready.finger = None
    receive = ready.wire.receive

    def later(timeout_s):
        ready.ms += 5
        if ready.clock() > began + 0.2:
            ready.gate._again.set()
        return receive(timeout_s)

    began = ready.clock()
    ready.wire.receive = later
    ready.gate._take = lambda *args, **more: None  # the wire is open
    ready.gate._read_at(ready.gate._adapter, None)
    assert ready.state.phase == "ended"
    assert hexed(data for _, _, data in ready.sent)[-2:] == [RELEASE["horn"], DEFAULT]


def test_another_craft_takes_over_only_after_the_release_is_confirmed(ready, make_bench):
    other = make_bench().actuation
    ready.live("horn")
    ready.serve(other)
    ready.finger = None
    ready.turn()
    assert ready.gate._actuation is ready.actuation
    ready.run(0.3)
    assert ready.gate._actuation is other
    assert not ready.controller.live()


def test_a_listening_adapter_is_never_asked_to_fire_or_to_release(make_bench):
    bench = make_bench(killed_while_live(make_bench, "horn"))
    bench.wire.listening_only = True
    bench.make_ready()
    bench.press("fan")
    bench.run(1.0)
    assert bench.sent == []
    bench.wire.listening_only = False
    bench.controller.open()
    bench.run(1.0)
    assert hexed(data for _, _, data in bench.sent) == [RELEASE["horn"], DEFAULT]
