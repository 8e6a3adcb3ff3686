"""The ``boathook`` command: the only place that knows every part. Nothing may import it.

Each command imports only what it needs; the window must be there before the bus library has been read.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

from app import arguments, stop_key
from app.errors import BoathookError, UsageError
from app.supervise import die_with_parent, supervise

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from bus.adapter import Adapter
    from bus.client import WallClient

FOREVER = float("inf")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; errors become one sentence and the designed exit code."""
    if os.environ.pop("BOATHOOK_SUPERVISED", None):
        die_with_parent()
    words = list(sys.argv[1:] if arguments is None else arguments)
    try:
        if words[:1] == ["simulate"]:
            return _simulate(words[1:])
        if words[:1] == ["book"]:
            return _book(words[1:])
        options = _parser().parse_args(words)
        command: Callable[[argparse.Namespace], int] = options.command
        return command(options)
    except BoathookError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        return 0


def _parser() -> argparse.ArgumentParser:
    places, adapter, panel = arguments.places(), arguments.adapter(), arguments.panel()
    parser = argparse.ArgumentParser(
        "boathook",
        parents=[places, adapter, panel],
        description="The service tool for a personal watercraft. Without a command it opens the kiosk.",
    )
    parser.add_argument(
        "--demo",
        action="store_true",
        help="with a simulated craft; recordings and craft book in a folder of their own, demo in the usual "
        "data folder, unless --data names one",
    )
    parser.add_argument("--scenario", default="ride", help="of the simulated craft (default: %(default)s)")
    parser.add_argument("--family", default="auk", help="of the simulated craft (default: %(default)s)")
    parser.set_defaults(command=_kiosk)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")

    def add(
        name: str, text: str, run: Callable[[argparse.Namespace], int], *parents: argparse.ArgumentParser
    ) -> argparse.ArgumentParser:
        sub = commands.add_parser(name, help=text, description=text, parents=[places, *parents])
        sub.set_defaults(command=run)
        return sub

    bus = add("bus", "the half that talks to the craft", _bus, adapter)
    bus.add_argument("--replay", type=Path, help=argparse.SUPPRESS)
    bus.add_argument("--speed", type=float, default=1.0, help=argparse.SUPPRESS)
    screen = add("screen", "the half with the glass", _screen, panel)
    screen.add_argument("--no-book", action="store_true", help=argparse.SUPPRESS)
    commands.add_parser("simulate", help="a simulated craft on a bus of its own", add_help=False)
    scan = add("scan", "read identity and faults", _scan, adapter)
    scan.add_argument("--json", action="store_true", help="one JSON object")
    scan.add_argument("--seconds", type=float, default=20.0, help="wait this long for a craft")
    watch = add("watch", "print live values, or those of a recording", _watch, adapter)
    watch.add_argument("--from", dest="source", type=Path, metavar="RECORDING", help="decode a file")
    watch.add_argument("--family", help="its name or its folder, instead of recognising it from the traffic")
    watch.add_argument("--json", action="store_true", help="one JSON object a line")
    watch.add_argument("--seconds", type=float, default=FOREVER, help="stop after this long")
    record = add("record", "write every frame to a file", _record, adapter)
    record.add_argument("file", type=Path, help="a name that ends in .log")
    record.add_argument("--seconds", type=float, default=FOREVER, help="stop after this long")
    replay = add("replay", "play a recording in the kiosk", _replay, panel)
    replay.add_argument("file", type=Path)
    replay.add_argument("--speed", type=float, default=1.0, help="times as fast (default: %(default)s)")
    arguments.families(add("families", "list, check or begin families", _families))
    commands.add_parser("book", help="the craft book: list, show, verify", add_help=False)
    doctor = add("doctor", "is this handheld fit for work?", _doctor, adapter)
    doctor.add_argument("--json", action="store_true")
    arguments.gallery(add("gallery", "every widget of the glass in all its states", _gallery))
    tour = add("tour", "make a picture of every screen, with a simulated craft", _tour)
    tour.add_argument("folder", type=Path, help="where the pictures go")
    tour.add_argument("--panel", default="7-800x480", help="panel profile (default: %(default)s)")
    return parser


def _simulate(words: list[str]) -> int:
    """Only this command loads the simulator, which knows its own arguments."""
    from simulator import command

    parser = argparse.ArgumentParser(
        "boathook simulate", description="A simulated craft on a bus of its own."
    )
    command.add_arguments(parser)
    return command.run(parser.parse_args(words))


def _book(words: list[str]) -> int:
    """Only this command loads the book, which knows its own arguments."""
    from app import book_command

    parser = argparse.ArgumentParser("boathook book", description="The craft book.")
    book_command.add_arguments(parser)
    options = parser.parse_args(words)
    return book_command.run(options, _data_folder(options), sys.stdout)


def _run_folder(options: argparse.Namespace) -> Path:
    """Where the wall's socket stands: the user's runtime folder, or one of our own in /tmp."""
    if options.run is not None:
        folder: Path = options.run
    else:
        import platformdirs

        folder = platformdirs.user_runtime_path("boathook")
        if not folder.parent.is_dir() or not os.access(folder.parent, os.W_OK):
            folder = Path(tempfile.gettempdir()) / f"boathook-{os.getuid()}"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if folder.stat().st_uid != os.getuid():
            raise UsageError(f"{folder} belongs to another user. Name a folder of your own with --run.")
    except OSError as error:
        raise UsageError(f"{folder} cannot be used: {error.strerror}. Name another with --run.") from error
    if len(str(folder)) > 90:
        raise UsageError(f"{folder} is too long a name for a socket. Name a shorter one with --run.")
    return folder


def _data_folder(options: argparse.Namespace) -> Path:
    if options.data is not None:
        return Path(options.data)
    import platformdirs

    folder = platformdirs.user_data_path("boathook")
    return folder / "demo" if getattr(options, "demo", False) else folder  # what is simulated never mixes


def _adapter(options: argparse.Namespace) -> Adapter:
    from bus.adapter import Adapter

    if options.interface is None and options.channel is not None:
        raise UsageError("A channel needs its interface: add --interface, for example --interface slcan.")
    return Adapter(options.interface, options.channel, options.bitrate)


def _client(options: argparse.Namespace) -> WallClient:
    from bus.client import WallClient

    return WallClient(_run_folder(options) / "wall")


def _self(*arguments: str | Path) -> list[str]:
    return [sys.executable, "-m", "app", *map(str, arguments)]


def _shared(options: argparse.Namespace) -> list[str]:
    return ["--run", str(_run_folder(options)), "--data", str(_data_folder(options))]


def _adapter_arguments(options: argparse.Namespace) -> list[str]:
    given = {"--interface": options.interface, "--channel": options.channel, "--bitrate": options.bitrate}
    return [str(word) for name, value in given.items() if value is not None for word in (name, value)]


def _kept_adapter(options: argparse.Namespace) -> list[str]:
    """Of the adapter that somebody chose on the glass, as long as it is plugged in."""
    from app.settings import SettingsFile
    from bus.adapter import chosen

    words = SettingsFile(_data_folder(options) / "settings.json").now.adapter
    adapter = chosen(words)
    if adapter.interface is None:
        if words:
            print(f"The chosen adapter ({words}) is not plugged in: any other is taken.", file=sys.stderr)
        return []
    return ["--interface", adapter.interface, "--channel", str(adapter.channel)]


def _screen_arguments(options: argparse.Namespace) -> list[str]:
    words = [] if options.panel is None else ["--panel", options.panel]
    if options.fullscreen:
        words.append("--fullscreen")
    if options.event_log is not None:
        words += ["--event-log", str(options.event_log)]
    _stop_keys(options)
    return words + [word for name in options.stop_key or () for word in ("--stop-key", name)]


def _stop_keys(options: argparse.Namespace) -> frozenset[int]:
    return stop_key.numbers(options.stop_key or stop_key.DEFAULT)


def _kiosk(options: argparse.Namespace) -> int:
    commands: dict[str, list[str]] = {}
    adapter = _adapter_arguments(options)
    if options.demo:
        run = _run_folder(options)
        craft = run / "craft"
        what = ("--family", options.family, "--scenario", options.scenario)
        commands["simulated craft"] = _self(
            "simulate", *what, "--channel", craft, "--control", run / "craft.control"
        )
        adapter = ["--interface", "slcan", "--channel", str(craft)]
    else:
        _adapter(options)
        adapter = adapter if options.interface else [*_kept_adapter(options), *adapter]
    commands["bus"] = _self("bus", *_shared(options), *adapter)
    commands["screen"] = _self("screen", *_shared(options), *_screen_arguments(options))
    return supervise(commands, ends_all="screen")


def _replay(options: argparse.Namespace) -> int:
    if options.speed <= 0:
        raise UsageError("The speed must be more than 0.")
    from bus.recording import RecordingReader

    next(
        iter(RecordingReader(options.file)), None
    )  # a file that cannot be read is told before a window opens
    return supervise(
        {
            "bus": _self("bus", *_shared(options), "--replay", options.file, "--speed", str(options.speed)),
            "screen": _self("screen", "--no-book", *_shared(options), *_screen_arguments(options)),
        },
        ends_all="screen",
    )


def _bus(options: argparse.Namespace) -> int:
    from bus import process
    from bus.family import load_families
    from bus.gate import Gate
    from bus.replay import replay_gate

    families, broken = load_families()
    for error in broken:
        print(error, file=sys.stderr)
    wall = _run_folder(options) / "wall"
    if options.replay is not None:
        return process.run(
            _adapter(options),
            families,
            wall,
            None,
            make_gate=lambda _: replay_gate(options.replay, options.speed),
            replay=True,
        )
    data = _data_folder(options)
    return process.run(
        _adapter(options),
        families,
        wall,
        data / "recordings",
        journal=data / "journal.jsonl",
        make_gate=Gate,
    )


def _screen(options: argparse.Namespace) -> int:
    from app.choices import Choices
    from app.keeper import BookKeeper
    from app.settings import SettingsFile
    from bus.adapter import found
    from screens import kiosk
    from screens.panel import usual

    settings = SettingsFile(_data_folder(options) / "settings.json")
    return kiosk.run(
        _client(options),
        panel=options.panel or usual(settings.now.panel),
        event_log=options.event_log,
        fullscreen=options.fullscreen,
        keeper=None if options.no_book else BookKeeper(_data_folder(options)),
        choices=Choices(_data_folder(options)),
        settings=settings,
        adapters=lambda: [adapter.words for adapter in found()],
        stop_keys=_stop_keys(options),
    )


def _gallery(options: argparse.Namespace) -> int:
    from screens import gallery

    return gallery.run(options.panel, options.skin, options.pictures)


def _scan(options: argparse.Namespace) -> int:
    from bus import scan_command

    client = _client(options)
    if client.poll().connected:
        if options.interface is not None:
            print("A running Boathook holds the adapter; it is asked.", file=sys.stderr)
        return scan_command.attached(client, sys.stdout, as_json=options.json, seconds=options.seconds)
    from bus.family import load_families

    adapter, (families, _broken) = _adapter(options), load_families()
    return scan_command.alone(adapter, families, sys.stdout, as_json=options.json, seconds=options.seconds)


def _watch(options: argparse.Namespace) -> int:
    from bus.family import load_families, named

    families, broken = load_families()
    name = options.family
    if name is not None:
        families = [named(name, families, broken)]
        name = families[0].name
    if options.source is not None:
        from bus import watch_file

        return watch_file.run(options.source, families, name, as_json=options.json, out=sys.stdout)
    from bus import watch_live

    until = time.monotonic() + options.seconds
    client = _client(options)
    if client.poll().connected:
        if options.interface is not None:
            print("A running Boathook holds the adapter; its values are printed.", file=sys.stderr)
        return watch_live.attached(client, sys.stdout, as_json=options.json, until=until)
    return watch_live.alone(_adapter(options), families, sys.stdout, as_json=options.json, until=until)


def _record(options: argparse.Namespace) -> int:
    from bus import record_command

    if _client(options).poll().connected:
        folder = _data_folder(options) / "recordings"
        print(f"A running Boathook holds the adapter and records by itself into {folder}.", file=sys.stderr)
        return 3
    return record_command.record(_adapter(options), options.file, until=time.monotonic() + options.seconds)


def _families(options: argparse.Namespace) -> int:
    from bus import families_command

    if options.action == "new":
        return families_command.new(options.name, options.within, out=sys.stdout)
    if options.action == "check":
        wanted = {"as_json": options.json, "requests": options.requests}
        return families_command.check(options.folder, **wanted, out=sys.stdout)
    return families_command.list_families(as_json=options.json, out=sys.stdout)


def _doctor(options: argparse.Namespace) -> int:
    import msgspec

    from bus import doctor
    from bus.family import load_families
    from screens.doctor import examine_screen

    families, broken = load_families()
    findings = list(
        doctor.examine(_adapter(options), _client(options), families, broken, _data_folder(options))
    )
    findings += [doctor.Finding("screen", ok, words) for ok, words in examine_screen()]
    for finding in findings:
        if options.json:
            print(msgspec.json.encode(finding).decode())
        else:
            mark = {True: "fit", False: "NOT FIT", None: "-"}[finding.ok]
            print(f"{finding.part:9} {mark:8} {finding.words}")
    return 1 if any(finding.ok is False for finding in findings) else 0


def _tour(options: argparse.Namespace) -> int:
    from screens import tour

    return tour.run(options.folder, options.panel, _self)


if __name__ == "__main__":
    sys.exit(main())
