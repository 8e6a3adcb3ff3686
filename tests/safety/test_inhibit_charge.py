"""What an inhibit leaves in the craft: spark held off lets fuel in, fuel held off does not.

Rules: design section 4, 6 (charged before it fires, purge) and 8; table of kinds in test_interlock.
"""

import pytest
from inhibits import SESSION, START, STATUS, cranked, end, latched, lets_go, say_clear, sent, still

from app.interlock import Need


def given_back(bench, output, crank_s=2.0):
    """Held, cranked for a while, and given back at rest."""
    cranked(latched(bench, output))
    bench.run(crank_s, ms=20)
    still(bench)
    end(bench)
    lets_go(bench)
    bench.until(lambda: not bench.actuation.busy)
    bench.watching = None
    return bench


def lacks(bench, output):
    bench.consider(output)
    bench.run(0.1)
    return set(bench.missing())


@pytest.mark.parametrize("output", START)
def test_nothing_leaves_before_the_start_is_on_the_disk(ready, output):
    say_clear(ready)
    ready.journal.stuck = True
    ready.press(output)
    ready.run(1.0)
    assert ready.sent == []
    ready.journal.stuck = False
    ready.run(0.1)
    assert sent(ready)[:2] == [SESSION, START[output]]
    body = ready.journal.of("output_start")[0]
    assert (body["kind"], body["craft"]) == (output.replace("off", "inhibit"), "auk 20417")
    assert body["fuel_cm3"] == (4.0 if output == "spark_off" else 0)  # design 5: all a craft may get


def test_the_journal_has_start_held_ending_and_end_in_this_order(ready):
    given_back(ready, "fuel_off")
    ready.turn()
    kinds = [entry["kind"] for entry in ready.journal.entries]
    wanted = ["output_start", "inhibit_held", "inhibit_ending", "output_end"]
    assert [kind for kind in kinds if kind in wanted] == wanted
    last = ready.journal.of("output_end")[0]
    assert (last["fired"], last["confirmed"]) == (True, True)
    assert last["cause"] == ready.journal.of("inhibit_ending")[0]["cause"] == "It was ended on the glass."


def test_what_left_is_counted_by_what_it_asks_for(ready):
    ready.gate.audit.keep_in(ready.journal)
    given_back(ready, "fuel_off", crank_s=4.0)
    ready.run(0.1)
    told = ready.journal.of("sent")[-1]
    assert told["output"] == "fuel_off"
    once = {"session", "start", "release", "default_session"}
    assert {name: told[name] for name in once} == dict.fromkeys(once, 1)
    assert told["read_back"] == sum(data.hex() == STATUS["fuel_off"] for _, _, data in ready.sent) >= 5
    assert "other" not in told


def test_a_second_time_is_told_like_the_first(ready):
    given_back(ready, "fuel_off")
    ready.confirm("no_smell")
    ready.run(2.5)
    given_back(ready, "fuel_off")
    ready.turn()
    assert [body["press"] for body in ready.journal.of("inhibit_held")] == [1, 2]
    assert [body["press"] for body in ready.journal.of("inhibit_ending")] == [1, 2]


def test_spark_held_off_vents_four_minutes_from_its_end_and_a_nose_comes_again(ready):
    given_back(ready, "spark_off", crank_s=30.0)
    ended = ready.clock()
    assert {"vented", "no_smell"} <= lacks(ready, "horn")
    ready.wait_out(238.0 - (ready.clock() - ended))
    ready.confirm("no_smell")
    assert {"vented", "no_smell"} <= lacks(ready, "horn")
    ready.run(3.0, ms=50)
    assert lacks(ready, "horn") == {"no_smell"}
    ready.confirm("no_smell")
    assert lacks(ready, "horn") == set()


def test_while_spark_is_held_off_it_is_charged_already(ready, make_bench):
    cranked(latched(ready, "spark_off"))
    killed = make_bench(ready.journal.entries).make_ready()
    assert killed.actuation.locked
    killed.run(2.5)
    killed.gate.unlock_outputs()
    killed.turn()
    assert {"vented", "no_smell"} <= lacks(killed, "horn")
    assert "purged" in lacks(killed, "coil_1")


def test_after_spark_was_held_off_no_spark_and_no_more_fuel_until_a_purge(ready):
    given_back(ready, "spark_off")
    ready.wait_out(241.0)
    ready.confirm("no_smell")
    assert "purged" in lacks(ready, "coil_1")
    for output in ("injector_1", "injector_2"):
        assert "fuel_room" in lacks(ready, output)
    ready.values |= {"EngineSpeed": 1300.0, "EngineSpeedDisplay": 1300.0, "ManifoldPressure": 40.0}
    ready.run(31.0, ms=50)  # design 6: the engine ran for 30 s
    ready.values["ManifoldPressure"] = 101.0
    still(ready)
    ready.run(2.5)
    assert not {"purged", "fuel_room"} & (lacks(ready, "coil_1") | lacks(ready, "injector_1"))


def test_a_crank_with_spark_held_off_purges_nothing(ready):
    given_back(ready, "spark_off", crank_s=6.0)
    ready.run(0.5)
    ready.confirm("purged_by_cranking")
    ready.turn()
    assert not ready.journal.of("purge")
    assert "purged" in lacks(ready, "coil_1")


def test_fuel_held_off_lets_none_in(ready):
    given_back(ready, "fuel_off")
    ready.confirm("no_smell")  # the engine turned: every word is void
    ready.run(2.1)
    assert lacks(ready, "horn") == set()
    assert "purged" not in lacks(ready, "coil_1")
    assert "fuel_room" not in lacks(ready, "injector_1")


def test_a_crank_with_fuel_held_off_may_be_the_purge_of_an_earlier_fuel_test(ready):
    """Design 6: plugs out, coils unpowered, cranked for 5 s and more with speed seen, and confirmed."""
    ready.live("injector_1")
    ready.run(4.5)
    ready.lift()
    ready.wait_out(241.0)
    ready.confirm("no_smell")
    ready.run(0.1)
    assert "purged" in lacks(ready, "coil_1")
    given_back(ready, "fuel_off", crank_s=6.0)
    ready.run(0.5)
    ready.confirm("purged_by_cranking")
    ready.turn()
    assert ready.journal.of("purge")[-1]["how"] == "cranked"
    assert "purged" not in lacks(ready, "coil_1")


@pytest.mark.parametrize("output", START)
@pytest.mark.parametrize("word", ["hands_clear", "jet_clear", "no_smell"])
def test_without_any_one_of_its_words_it_is_refused(ready, output, word):
    say_clear(ready)
    assert lacks(ready, output) == set()
    ready.facts.doubt(word)
    ready.press(output)
    ready.run(0.3)
    assert ready.sent == []
    assert set(ready.missing()) == {Need(word)}


def test_while_spark_is_held_off_no_crank_and_no_run_is_a_purge(ready):
    cranked(latched(ready, "spark_off"))
    ready.run(6.0, ms=20)
    still(ready)
    ready.run(1.0, ms=20)
    ready.confirm("purged_by_cranking")
    ready.run(0.1)
    assert not ready.journal.of("purge")
    ready.values |= {"EngineSpeed": 1300.0, "EngineSpeedDisplay": 1300.0, "ManifoldPressure": 40.0}
    ready.run(32.0, ms=20)
    assert not ready.journal.of("purge")
    assert ready.purged == []
