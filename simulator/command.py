"""``boathook simulate``: serve a simulated craft until it is told to end."""

from __future__ import annotations

import json
import os
import signal
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from simulator import scenario
from simulator.broadcast import FAMILIES
from simulator.craft import Craft
from simulator.errors import Misunderstood, SimulatorError
from simulator.serve import Server

if TYPE_CHECKING:
    import argparse
    from types import FrameType


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's own arguments."""
    parser.add_argument("--family", default="auk", help=f"{' or '.join(FAMILIES)} (default: %(default)s)")
    parser.add_argument("--scenario", default="dock", help="what happens (default: %(default)s), see --list")
    parser.add_argument(
        "--interface", default="slcan", help="slcan, virtual or socketcan (default: %(default)s)"
    )
    parser.add_argument("--channel", help="link to the serial line, name of the virtual bus, or vcan device")
    parser.add_argument("--control", type=Path, metavar="PATH", help="socket that takes requests")
    parser.add_argument("--ledger", type=Path, metavar="FILE", help="write what is received to this file")
    parser.add_argument(
        "--no-listen-only", action="store_true", help="behave as an adapter without that mode"
    )
    parser.add_argument("--nodes", type=int, help="controllers on the bus (1 = nobody confirms frames)")
    parser.add_argument("--speed", type=float, help="times as fast: heat, hours and fuel, not the crank")
    parser.add_argument("--list", action="store_true", help="list the scenarios and end")
    parser.add_argument("--json", action="store_true", help="print JSON objects, one a line")


def run(args: argparse.Namespace) -> int:
    """Serve; returns 0 after a clean end, 1 if something failed, 2 for nonsense, 3 for what is refused."""
    try:
        return _list(as_json=args.json) if args.list else _serve(args)
    except SimulatorError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    except BrokenPipeError:  # nobody reads on; that is no failure
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


def _list(*, as_json: bool) -> int:
    for name in scenario.names():
        one = scenario.load(name)
        families = list(one.families or FAMILIES)
        if as_json:
            print(json.dumps({"name": name, "title": one.title, "families": families}))
        else:
            print(f"{name:24} {one.title}")
    return 0


def _serve(args: argparse.Namespace) -> int:
    if args.speed is not None and not 0 < args.speed <= 1000:
        raise Misunderstood("The speed must be more than 0 and at most 1000.")
    if args.nodes is not None and args.nodes < 1:
        raise Misunderstood("There is at least one controller on a bus.")
    stopped = False

    def stop(_number: int, _frame: FrameType | None) -> None:
        nonlocal stopped
        stopped = True

    before = {number: signal.signal(number, stop) for number in (signal.SIGTERM, signal.SIGINT)}
    try:
        craft = Craft(args.family, args.scenario, pace=args.speed)
        server = Server(
            craft,
            interface=args.interface,
            channel=args.channel,
            control=args.control,
            ledger=args.ledger,
            nodes=args.nodes,
            listen_only=False if args.no_listen_only else None,
        )
        try:
            _announce(server, args)
        except BaseException:
            server.close()
            raise
        server.run(lambda: stopped)
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
    return 0


def _announce(server: Server, args: argparse.Namespace) -> None:
    """The one line that says that it serves."""
    craft = server.craft
    control = None if args.control is None else str(args.control)
    if args.json:
        served = {
            "family": craft.family,
            "scenario": craft.scenario.name,
            "interface": args.interface,
            "channel": server.transport.place,
            "bitrate": craft.bitrate,
            "control": control,
        }
        print(json.dumps(served), flush=True)
        return
    asks = "" if control is None else f", control at {control}"
    print(
        f"Simulated {craft.family}, scenario {craft.scenario.name}: {server.transport.words}, "
        f"{craft.bitrate} bit/s{asks}",
        flush=True,
    )
