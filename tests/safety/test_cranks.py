"""What counts as a crank by the person's own hand: design 6, five seconds with speed seen."""

import pytest


@pytest.fixture
def craft(craft_kit):
    return craft_kit.craft().say().pull().run(3.0)


def cranked(craft, seconds=5.2, speed=300.0, **more):
    return craft.run(seconds, **({"EngineSpeed": speed, "EngineSpeedDisplay": speed} | more))


def ago(craft):
    return craft.table.cranked_ago(craft.now)


def test_five_seconds_of_cranking_by_both_sources_count_for_two_minutes(craft):
    assert ago(craft) is None
    cranked(craft, 4.9)
    assert ago(craft) is None
    cranked(craft, 0.3)
    end = craft.now
    craft.run(2.5)
    assert 2.3 <= ago(craft) <= 2.7
    assert craft.table.cranked_ago(end + 119.8) is not None
    assert craft.table.cranked_ago(end + 120.1) is None


@pytest.mark.parametrize("speed", [1.0, 150.0, 501.0, 1300.0, 12500.0])
def test_a_creep_or_an_engine_that_runs_is_no_crank(craft, speed):
    cranked(craft, 10.0, speed=speed)
    craft.run(1.0)
    assert ago(craft) is None


@pytest.mark.parametrize("one", ["EngineSpeed", "EngineSpeedDisplay"])
@pytest.mark.parametrize("value", [0.0, 100.0, 501.0])
def test_one_source_alone_is_no_crank(craft, one, value):
    cranked(craft, 10.0, **{one: value})
    craft.run(0.2)
    assert ago(craft) is None


@pytest.mark.parametrize("how", ["gap", "stood", "sentinel", "ran", "other", "forgotten", "key_off"])
@pytest.mark.parametrize("when", ["between", "after"])
def test_a_crank_that_broke_off_or_was_followed_by_a_doubt_does_not_count(craft, how, when):
    cranked(craft, 5.2 if when == "after" else 3.0)
    if how == "gap":
        craft.now += 0.3
    elif how == "stood":
        craft.run(0.2)
    elif how == "sentinel":
        cranked(craft, 0.1, EngineSpeed=0xFFFE * 0.25)
    elif how == "ran":
        cranked(craft, 0.1, speed=900.0)
    elif how == "other":
        craft.values["ControllerSerial"] = 20418
    elif how == "forgotten":
        craft.table.forget()
    else:
        craft.now += 0.51
    if when == "between":
        cranked(craft, 3.0)
    craft.run(1.0)
    stays = when == "after" and how in ("gap", "stood")
    assert (ago(craft) is not None) is stays


def test_a_crank_that_was_spent_counts_no_more_and_a_later_one_does(craft):
    cranked(craft)
    craft.run(1.0)
    craft.table.spend_crank(craft.now)
    assert ago(craft) is None
    cranked(craft)
    assert ago(craft) is not None
