"""An inhibit on the bench: latched, cranked on, at rest again; several test modules share it."""

from app.output_messages import EndInhibit

START = {"fuel_off": "042fd14103000000", "spark_off": "042fd14203000000"}
RELEASE = {"fuel_off": "042fd14100000000", "spark_off": "042fd14200000000"}
STATUS = {"fuel_off": "0322d14100000000", "spark_off": "0322d14200000000"}
SESSION, DEFAULT = "0210030000000000", "0210010000000000"
"""ISO 14229-1 in single frames of ISO 15765-2, by hand: 2F DID 03, 2F DID 00, 22 DID, 10 03, 10 01."""

DID = {"fuel_off": 0xD141, "spark_off": 0xD142}


def hexed(frames):
    return [data.hex() for data in frames]


def sent(bench):
    return [data.hex() for _, _, data in bench.sent]


def say_clear(bench):
    """What a person says beside "hatch open, no smell"."""
    bench.confirm("hands_clear")
    bench.confirm("jet_clear")
    bench.turn()
    return bench


def latched(bench, output="fuel_off"):
    """Pressed and held until it was read back; then the finger goes, and the glass goes on showing it."""
    say_clear(bench)
    bench.watching = bench.press(output)
    bench.turn()
    bench.until(lambda: bench.state.phase == "latched", 1.0)
    bench.lift()
    bench.turn()
    return bench


def cranked(bench, rpm=250.0):
    """The start switch is pressed, and the engine turns."""
    bench.values |= {"StartSwitch": "Pressed", "EngineSpeed": rpm, "EngineSpeedDisplay": rpm}
    bench.run(0.3, ms=20)
    return bench


def still(bench):
    """The start switch is let go of, and the engine stands from now on."""
    bench.values |= {"StartSwitch": "Released", "EngineSpeed": 0.0, "EngineSpeedDisplay": 0.0}
    return bench


def end(bench, cause="It was ended on the glass."):
    bench.ask(EndInhibit(bench.watching, cause))


def holds(bench, output="fuel_off"):
    return DID[output] in bench.controller.live()


def lets_go(bench, seconds=3.5):
    """Runs until the release goes out; returns the seconds that took."""
    at = bench.clock()
    while not {data.hex() for data in bench.turn(20)} & set(RELEASE.values()):
        assert bench.clock() < at + seconds, "it was never given back"
    return bench.clock() - at
