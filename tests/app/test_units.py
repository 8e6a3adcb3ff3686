"""Units on the glass."""

import pytest

from app.messages import Catalogue, Limit, Link, LinkState, Mode, SignalInfo, Snapshot, Value
from app.ports import View
from app.reading import Quality
from app.settings import Pressure, Settings, Speed, Temperature
from app.units import TURNED, GlassUnits


def view(unit, value, limits=()):
    info = SignalInfo("X", "X", unit, "G", 0, 200.0, 400.0, 1.0, list(limits), False)
    values = [Value(0, value, 1.0, Quality.GOOD, 1)]
    snapshot = Snapshot(1.0, Link(LinkState.FOUND, 0.0), Mode.LIVE, None, None, 1, values)
    return View(True, snapshot, Catalogue(1, "f", [info], {}, ["X"], ["G"]))


@pytest.mark.parametrize(
    ("unit", "value", "shown_unit", "shown"),
    [
        # 296.67 K = 23.52 degC and 158300 Pa: the worked NMEA 2000 example of the CANboat database
        ("K", 296.67, "degC", 23.52),
        ("Pa", 158_300.0, "kPa", 158.3),
        ("rad", 3.141, "deg", 179.966),  # 180/pi degrees in a radian
        ("m/s", 10.0, "km/h", 36.0),  # SI brochure: 1 h = 3600 s
        ("s", 372_960.0, "h", 103.6),  # the worked example of 127489: 372960 s = 103.6 h
        ("rpm", 798.5, "rev/min", 798.5),
        ("V", 12.6, "V", 12.6),
    ],
)
def test_units_of_the_standards_are_turned_into_what_people_read(unit, value, shown_unit, shown):
    turned = GlassUnits().turn(view(unit, value))
    assert turned.catalogue.signals[0].unit == shown_unit
    assert turned.snapshot.values[0].value == pytest.approx(shown, abs=0.001)


def test_limits_and_scale_are_turned_with_the_value():
    limit = Limit("alarm", "above", 375.15, None, "a source", generic=True)
    info = GlassUnits().turn(view("K", 300.0, [limit])).catalogue.signals[0]
    assert info.limits[0].value == pytest.approx(102.0)
    assert (info.low, info.high) == pytest.approx((-73.15, 126.85))


@pytest.mark.parametrize("unit", sorted(TURNED))
def test_codes_that_are_no_numbers_stay_what_they_are(unit):
    assert GlassUnits().turn(view(unit, None)).snapshot.values[0].value is None
    assert GlassUnits().turn(view(unit, "Error")).snapshot.values[0].value == "Error"


def test_a_view_without_a_catalogue_passes_through():
    empty = View(False, None, None)
    assert GlassUnits().turn(empty) is empty


OTHERS = Settings(temperature=Temperature.FAHRENHEIT, speed=Speed.MPH, pressure=Pressure.PSI)


@pytest.mark.parametrize(
    ("settings", "unit", "value", "shown_unit", "shown"),
    [
        # NIST SP 811, appendix B: t/degF = 1.8 t/degC + 32; 1 psi = 6.894 757 kPa; 1 mile = 1.609 344 km;
        # 1 nautical mile = 1.852 km; 1 bar = 100 kPa
        (OTHERS, "degC", 100.0, "degF", 212.0),
        (OTHERS, "K", 233.15, "degF", -40.0),
        (OTHERS, "kPa", 6.894757, "psi", 1.0),
        (OTHERS, "Pa", 101_325.0, "psi", 14.69595),  # the standard atmosphere
        (OTHERS, "km/h", 1.609344, "mph", 1.0),
        (OTHERS, "m/s", 0.44704, "mph", 1.0),
        (Settings(speed=Speed.KNOTS), "km/h", 1.852, "knots", 1.0),
        (Settings(speed=Speed.KNOTS), "m/s", 1852 / 3600, "knots", 1.0),
        (Settings(pressure=Pressure.BAR), "kPa", 101.325, "bar", 1.01325),
        (Settings(pressure=Pressure.BAR), "degC", 20.0, "degC", 20.0),
        (OTHERS, "rpm", 798.5, "rev/min", 798.5),
        (OTHERS, "V", 12.6, "V", 12.6),
    ],
)
def test_the_units_that_a_person_chose(settings, unit, value, shown_unit, shown):
    turned = GlassUnits(settings).turn(view(unit, value))
    assert turned.catalogue.signals[0].unit == shown_unit
    assert turned.snapshot.values[0].value == pytest.approx(shown, abs=1e-5)


def test_other_units_are_worn_from_the_next_view_on_limits_and_all():
    limit = Limit("alarm", "above", 102.0, None, "a source", generic=True)
    units, seen = GlassUnits(), view("degC", 100.0, [limit])
    assert units.turn(seen) is seen
    units.choose(OTHERS)
    turned = units.turn(seen)
    assert turned.snapshot.values[0].value == pytest.approx(212.0)
    assert turned.catalogue.signals[0].limits[0].value == pytest.approx(215.6)
    units.choose(Settings())
    assert units.turn(seen) is seen
