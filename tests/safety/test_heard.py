"""Families of other shapes: 29-bit identifiers, no counter, no engine speed; judged all the same."""

from msgspec import structs

from bus.facts import FactTable
from bus.frame import EXTENDED, Frame


def table_of(family):
    return FactTable(family, frozenset(), set(), print, print)


def by_groups(family):
    """The same messages as SAE J1939 carries them: a parameter group in 29 bits, any priority and sender."""
    messages = tuple(
        structs.replace(message, ident=EXTENDED | 0x18FF0000 | number << 8)
        for number, message in enumerate(family.messages)
    )
    places = {old.ident: number for number, old in enumerate(family.messages)}
    return structs.replace(family, identifiers="pgn", messages=messages), places


def test_messages_known_by_their_group_count_whoever_sends_them(craft_kit):
    family, places = by_groups(craft_kit.family())
    craft = craft_kit.craft()
    honest, craft.table = craft.table, table_of(family)

    class Renumbered:
        def feed(self, frame):
            ident = EXTENDED | 0x0CFF0000 | places[frame.ident] << 8 | 0x42
            craft.heard.feed(Frame(frame.at, ident, frame.data))

        def __getattr__(self, name):
            return getattr(craft.heard, name)

    craft.heard, craft.table = craft.table, Renumbered()
    craft.run(3.0)
    for need in ("speed_known", "engine_stopped", "battery", "lanyard_in", "controller_known", "bus_alive"):
        assert craft.holds(need) is True, need
    assert honest.serial is None


def test_a_family_that_tells_no_engine_speed_still_loses_its_serial_at_key_off(craft_kit):
    craft = craft_kit.craft()
    craft.table = table_of(craft_kit.family_without("engine_speed"))
    craft.run(1.0)
    assert craft.table.serial == "auk 20417"
    craft.now += 0.51
    craft.say(*craft.others("DisplayPages"))
    assert craft.table.serial is None
    craft.run(1.0)
    assert craft.table.serial == "auk 20417"


def test_after_a_loop_that_hung_even_a_family_without_a_counter_must_be_heard_again(craft_kit):
    craft = craft_kit.craft()
    craft.table = table_of(craft_kit.family_without("alive"))
    craft.run(1.0)
    craft.table.forget()
    assert craft.holds("bus_alive") is False
    craft.say()
    assert craft.holds("bus_alive") is True


def test_an_engine_that_ran_on_purges_again_and_again(craft_kit):
    craft = craft_kit.craft().say()
    craft.run(65.0, EngineSpeed=1300.0, EngineSpeedDisplay=1300.0)
    assert craft.purged == ["auk 20417", "auk 20417"]
