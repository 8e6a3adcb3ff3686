"""The bus process dies under any page, another takes its place; nothing of the craft is known meanwhile."""

import pytest

pytestmark = pytest.mark.glass

GONE = ("no_bus", "starting", "listening", "good")
"""What the glass is told one after the other: the bus process does not answer; nothing of it is known; the
next one listens and knows no craft; it has found the craft."""


@pytest.mark.timeout(900)
def test_no_page_fails_when_nothing_of_the_craft_is_known_any_more(stage):
    one_a_page = {view.partition(":")[2]: view for view in stage.ask("facts")["views"]}
    assert len(one_a_page) > 100
    for view in one_a_page.values():
        stage.ask("open", view)
        for scene in GONE:
            stage.ask("scene", scene)
            stage.ask("pass_time", 0.3, 0.1)


def test_an_alarm_stays_on_the_glass_while_the_bus_process_is_started_again(stage):
    stage.ask("open", "alarm:wait+wait")
    before = stage.ask("measure")
    assert before["name"] == "ride/alarm"
    stage.ask("scene", "listening")
    stage.ask("pass_time", 0.3)
    seen = stage.ask("measure")
    assert seen["name"] == "ride/alarm"
    (tile,), (was,) = seen["tiles"], before["tiles"]
    assert (tile["signal"], tile["drawn"], tile["unit"]) == (was["signal"], "no data", "")
