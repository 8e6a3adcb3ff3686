"""Settings on the glass: a touch goes on to the next, and what is shown follows at once."""

import pytest

pytestmark = pytest.mark.glass

PAGE = "stopped:More+Settings"


def key(seen, begins):
    """The text of the key that begins so."""
    return next(one["text"] for one in seen["keys"] if one["text"].startswith(begins))


def tile(seen, signal):
    return next(one for one in seen["tiles"] if one["signal"] == signal)


def test_other_units_are_on_the_glass_at_once(stage):
    before = tile(stage.open("good"), "CoolantTemperature")
    after = tile(stage.open(f"{PAGE}+Heat+Ride"), "CoolantTemperature")
    assert (before["unit"], after["unit"]) == ("°C", "°F")
    by_hand = float(before["drawn"]) * 1.8 + 32  # NIST SP 811, appendix B; both figures are rounded
    assert float(after["drawn"]) == pytest.approx(by_hand, abs=1.5)


def test_night_turns_paper_and_ink_round(stage):
    day = tile(stage.open("good"), "CoolantTemperature")
    night = tile(stage.open(f"{PAGE}+Colours+Ride"), "CoolantTemperature")
    light = {"day paper": day["ground"], "day ink": day["ink"], "paper": night["ground"], "ink": night["ink"]}
    light = {what: sum(colour[:3]) / 3 for what, colour in light.items()}
    assert light["day ink"] < 0.2
    assert light["day paper"] > 0.9
    assert light["paper"] < 0.2
    assert 0.5 < light["ink"] < light["day paper"]


@pytest.mark.parametrize(
    ("name", "every"),
    [
        ("Pressure", ["kPa", "psi", "bar", "kPa"]),
        ("Craft speed", ["km/h", "mph", "knots", "km/h"]),
        ("Heat", ["°C", "°F", "°C"]),
        ("Colours", ["day", "night", "day"]),
        ("Used", ["in the hand", "on the handlebar", "in the hand"]),
        ("Adapter", ["any plugged in", "can0", "…_adapter_0123", "any plugged in"]),
    ],
)
def test_each_key_says_what_stands_and_goes_on_to_the_next(stage, name, every):
    seen = [key(stage.open(PAGE), name)]
    for _ in every[1:]:
        stage.ask("tap", name)
        seen.append(key(stage.ask("measure"), name))
    assert seen == [f"{name}: {choice}" for choice in every]


def test_a_panel_that_has_no_room_on_this_window_is_not_offered(panel_stage):
    seen = stage_panels(panel_stage)
    width, height = panel_stage.ask("measure")["window"]
    assert all(width >= int(name.split("-")[1].split("x")[0]) for name in seen)
    assert all(height >= int(name.split("x")[1]) for name in seen)
    assert "7-800x480" in seen


def stage_panels(stage):
    """Every profile the key offers, in its order."""
    seen = []
    text = key(stage.open(PAGE), "Panel").removeprefix("Panel: ")
    while text not in seen:
        seen.append(text)
        stage.ask("tap", "Panel")
        text = key(stage.ask("measure"), "Panel").removeprefix("Panel: ")
    return [name for name in seen if name != "as started"]
