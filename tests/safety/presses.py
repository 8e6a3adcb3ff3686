"""A press on the bench, as several test modules make it, with its requests by hand."""

START = {"horn": "052fd12203050000", "fan": "052fd12103050000", "injector_1": "062fd10103143200"}
RELEASE = {"horn": "042fd12200000000", "fan": "042fd12100000000", "injector_1": "042fd10100000000"}
SESSION, DEFAULT = "0210030000000000", "0210010000000000"


def hexed(frames):
    return [data.hex() for data in frames]


def last_move(bench):
    """Seconds for which the newest move lasted."""
    _, start, end = bench.controller.moves[-1]
    return end - start


def unconfirmed(bench, output="horn"):
    bench.live(output)
    bench.run(0.2)
    bench.controller.mute = bench.controller.stubborn = True
    bench.lift()
    bench.run(1.7)
    return bench


def fire_injector(bench, output="injector_1"):
    """One full press, then venting, a sniff and a rest."""
    bench.confirm("no_smell")
    bench.turn()
    bench.press(output)
    bench.run(5.0, ms=20)
    fired = bench.state.phase == "ended"
    bench.lift()
    bench.wait_out(241.0)
    return fired
