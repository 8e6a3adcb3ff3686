"""The keeper of the book: what the glass saw and the bus side noted is in the book, once, whatever fails."""

import shutil
import threading

import msgspec
import pytest

from app import keeper as keeper_module
from app.__main__ import _data_folder, _parser, main
from app.book import VISIT_GAP_MS, Book
from app.diagnosis import Fault, HeardFault, HeardFaults, ModuleState, Report
from app.entry_words import headline, page
from app.errors import StorageError
from app.keeper import AWAY_S, BookKeeper
from app.messages import Craft, Link, LinkState, Mode, Snapshot
from app.operators import OPERATORS
from app.ports import View
from bus.journal import Journal

INES, MARA = OPERATORS
CRAFT = "auk 1042"
FAULT = Fault("engine", 0x011700, "P0117", "Coolant sensor low", 0x09, True, False, True, False)


def report(number=1, kind="scan", at=50.0, **more):
    values = {
        "number": number,
        "kind": kind,
        "at": at,
        "wall": 1_795_600_000.0,
        "craft": CRAFT,
        "identity": [],
        "modules": [ModuleState("engine", "Engine controller", True)],
        "faults": [FAULT],
    }
    return Report(**values | more)


def view(
    told=None, *, at=60.0, serial="1042", operator="Mara", mode=Mode.LIVE, state=LinkState.FOUND, **more
):
    craft = None if serial is None else Craft("auk", "Auk three-cylinder", serial)
    snapshot = Snapshot(
        at, Link(state, 0.0), mode, craft, None, 1, [],
        report=0 if told is None else told.number, operator=operator,
    )  # fmt: skip
    return msgspec.structs.replace(View(True, snapshot, None, told), **more)


@pytest.fixture
def keep(tmp_path):
    """Starts keepers of one data folder; all are stopped at the end."""
    started = []

    def start(data=tmp_path, **more):
        keeper = BookKeeper(data, again_s=0.02, **more)
        started.append(keeper)
        keeper.start()
        return keeper

    yield start
    for keeper in started:
        keeper.stop()


def stored(data):
    """Everything in the book but its beginning, oldest first."""
    book = Book.read(data)
    try:
        assert book.verify() == []
        return list(reversed(book.entries(limit=10_000)))[1:]
    finally:
        book.close()


def kept(data):
    """Kind, craft and person of each."""
    return [(entry.kind, entry.craft, entry.operator) for entry in stored(data)]


def write_journal(data, *lines):
    journal = Journal(data / "journal.jsonl", boot_id="b")
    journal.start()
    for kind, body in lines:
        journal.put(kind, **body)
    journal.stop()


def test_craft_scan_and_clear_are_kept_once_with_who_was_signed_in(keep, tmp_path):
    keeper = keep()
    for _ in range(3):
        keeper.saw(view(operator=""))
        keeper.saw(view(report(), operator="Ines"))
        keeper.saw(view(report(2, "clear", 70.0, before=[FAULT])))
    keeper.stop()
    assert kept(tmp_path) == [("craft_seen", CRAFT, ""), ("scan", CRAFT, "Ines"), ("clear", CRAFT, "Mara")]


def test_what_is_seen_of_the_craft_belongs_to_its_visit(keep, tmp_path):
    keeper = keep()
    keeper.saw(view(report()))
    keeper.stop()
    seen, scan = stored(tmp_path)
    assert scan.visit == seen.id


def test_a_restart_of_either_side_keeps_the_same_reading_once_and_a_new_one_anew(keep, tmp_path):
    first = keep()
    first.saw(view(report()))
    first.stop()
    screen_again = keep()
    screen_again.saw(view(report()))
    screen_again.saw(view())  # the bus process has begun anew, and so its numbers
    screen_again.saw(view(report(1, at=90.0)))
    screen_again.stop()
    assert [kind for kind, _, _ in kept(tmp_path)] == ["craft_seen", "scan", "scan"]


def test_a_report_that_is_not_of_this_moment_is_not_kept(keep, tmp_path):
    keeper = keep()
    now = view(report(2))
    keeper.saw(msgspec.structs.replace(now, report=report(1)))
    keeper.saw(view(report(3), connected=False))
    keeper.saw(View(connected=True, snapshot=None, catalogue=None, report=report(4)))
    keeper.stop()
    assert [kind for kind, _, _ in kept(tmp_path)] == ["craft_seen"]


def test_only_a_craft_that_is_heard_and_has_said_its_serial_is_kept(keep, tmp_path):
    keeper = keep()
    keeper.saw(view(serial=None))
    keeper.saw(view(serial=""))
    keeper.saw(view(serial="7", state=LinkState.LOST))
    keeper.saw(view(serial="8"))
    keeper.saw(view(serial="9"))
    keeper.stop()
    assert [craft for _, craft, _ in kept(tmp_path)] == ["auk 8", "auk 9"]


def test_a_craft_heard_all_the_time_is_on_one_visit_and_one_that_was_away_for_hours_begins_another(
    keep, tmp_path, hand, wait_until
):
    assert AWAY_S * 1000 == VISIT_GAP_MS
    keeper = keep(open_book=lambda data: Book.open(data, hand.clocks()))

    def hear_after(seconds):
        hand.pass_by(seconds)
        keeper.saw(view(at=hand.mono))
        keeper.saw(view(report(int(hand.mono), at=hand.mono), at=hand.mono))
        assert wait_until(lambda: keeper.entries and keeper.entries[0].body.get("at") == hand.mono)

    hear_after(0)
    for _ in range(3):  # half a day without anything to be kept but that it is there
        hand.pass_by(AWAY_S / 2)
        keeper.saw(view(at=hand.mono))
    hear_after(1)
    hear_after(AWAY_S + 1)
    keeper.stop()
    assert [kind for kind, _, _ in kept(tmp_path)] == ["craft_seen", "scan", "scan", "craft_seen", "scan"]
    assert len({entry.visit for entry in stored(tmp_path)}) == 2


def test_a_sign_in_is_kept_nobody_and_a_second_touch_are_not(keep, tmp_path):
    keeper = keep()
    keeper.saw(view(serial=None, operator=""))
    keeper.signed_in(INES)
    keeper.saw(view(serial=None, operator="Ines"))
    keeper.signed_in(INES)
    keeper.signed_in(None)
    keeper.saw(view(serial=None, operator=""))
    keeper.signed_in(MARA)
    keeper.stop()
    assert kept(tmp_path) == [("sign_in", "", "Ines"), ("sign_in", "", "Mara")]


def test_lines_of_the_journal_are_taken_once_and_say_how_an_output_test_ended(keep, tmp_path):
    start = {"output": "injector_1", "label": "Injector 1", "press": 5, "craft": CRAFT, "operator": "Mara"}
    end = {"output": "injector_1", "press": 5, "craft": CRAFT, "fired": True, "confirmed": True}
    write_journal(tmp_path, ("output_start", start), ("output_end", end | {"cause": "Finger lifted."}))
    first = keep()
    first.saw(view())
    first.stop()
    refused = {
        "output": "coil_1",
        "press": 6,
        "craft": CRAFT,
        "operator": "Mara",
        "cause": "The engine turns.",
    }
    write_journal(tmp_path, ("refused", refused))
    second = keep()
    second.stop()
    assert [kind for kind, _, _ in kept(tmp_path)].count("output_end") == 1
    said = [headline(entry) for entry in second.entries]
    assert said[0] == "Coil 1 refused: The engine turns."
    assert "Injector 1: fired, confirmed stopped. Finger lifted." in said


def test_the_journal_is_looked_at_while_it_grows(keep, tmp_path, wait_until, monkeypatch):
    monkeypatch.setattr(keeper_module, "LOOK_S", 0.02)
    keeper = keep()
    assert wait_until(lambda: keeper.entries)
    write_journal(tmp_path, ("leak", {"craft": CRAFT, "operator": "Mara"}))
    assert wait_until(lambda: keeper.entries[0].kind == "leak")


def test_a_replay_adds_nothing(keep, tmp_path):
    keeper = keep()
    keeper.saw(view(report(), mode=Mode.REPLAY, operator=""))
    keeper.signed_in(MARA)
    keeper.stop()
    assert kept(tmp_path) == []


def test_the_newest_entries_are_ready_for_the_glass_and_those_of_the_craft_that_is_heard(
    keep, tmp_path, wait_until
):
    keeper = keep()
    assert wait_until(lambda: [entry.kind for entry in keeper.entries] == ["book_begun"])
    keeper.saw(view(serial="7"))
    keeper.saw(view(report()))
    assert wait_until(lambda: len(keeper.of(CRAFT)) == 2)
    assert [entry.kind for entry in keeper.entries] == ["scan", "craft_seen", "craft_seen", "book_begun"]
    assert [entry.craft for entry in keeper.of("auk 7")] == ["auk 7"]
    assert keeper.trouble == ""


def test_entries_of_the_craft_are_ready_however_much_came_since_from_others(keep, tmp_path, wait_until):
    book = Book.open(tmp_path)
    book.add_craft("auk", "1042")
    for serial in range(keeper_module.SHOWN):
        book.add_craft("auk", f"9{serial}")
    book.close()
    keeper = keep()
    assert wait_until(lambda: len(keeper.entries) == keeper_module.SHOWN)
    assert keeper.of(CRAFT) == ()
    keeper.saw(view())
    assert wait_until(lambda: [entry.craft for entry in keeper.of(CRAFT)] == [CRAFT])


def test_a_book_that_cannot_be_opened_is_tried_again_and_nothing_is_lost(keep, tmp_path, wait_until):
    data = tmp_path / "data"
    data.write_text("a file stands in the way")
    keeper = keep(data)
    keeper.saw(view(report()))
    keeper.signed_in(INES)
    assert wait_until(lambda: keeper.trouble)
    assert "cannot be opened" in keeper.trouble
    assert keeper.entries == ()
    data.unlink()
    assert wait_until(lambda: len(keeper.entries) == 4 and not keeper.trouble)
    assert [kind for kind, _, _ in kept(data)] == ["craft_seen", "scan", "sign_in"]


def test_a_write_that_fails_is_made_up_for_in_its_order(keep, tmp_path, wait_until):
    fails = threading.Event()
    fails.set()

    class Flaky(Book):
        def add_scan(self, told, operator=""):
            if fails.is_set():
                raise StorageError("The storage is full.")
            return super().add_scan(told, operator)

    keeper = keep(open_book=Flaky.open)
    keeper.saw(view(report()))
    keeper.saw(view(report(2, "clear", 70.0)))
    assert wait_until(lambda: keeper.trouble == "The storage is full.")
    fails.clear()
    assert wait_until(lambda: keeper.trouble == "")
    keeper.stop()
    assert [kind for kind, _, _ in kept(tmp_path)] == ["craft_seen", "scan", "clear"]


def test_a_reading_that_has_no_form_on_the_disk_is_told_and_holds_nothing_up(keep, tmp_path):
    keeper = keep()
    odd = msgspec.structs.replace(FAULT, hours=float("nan"))
    keeper.saw(view(report(faults=[odd])))
    keeper.saw(view(report(2, at=70.0)))
    keeper.stop()
    assert [kind for kind, _, _ in kept(tmp_path)] == ["craft_seen", "scan"]
    assert keeper.trouble.startswith("Something could not be put into the craft book")


def test_a_journal_that_cannot_be_read_is_told_and_the_rest_is_kept(keep, tmp_path, wait_until):
    (tmp_path / "journal.jsonl").mkdir()
    keeper = keep()
    keeper.saw(view(report()))
    assert wait_until(lambda: len(keeper.entries) == 3)
    assert wait_until(lambda: "cannot be read" in keeper.trouble)
    keeper.stop()
    assert [kind for kind, _, _ in kept(tmp_path)] == ["craft_seen", "scan"]


def test_a_damaged_book_is_told_and_a_new_one_kept(keep, tmp_path):
    keep().stop()
    (tmp_path / "book" / "entries.sqlite").write_bytes(b"not a book" * 100)
    keeper = keep()
    keeper.saw(view())
    keeper.stop()
    assert "was damaged" in keeper.trouble
    assert [kind for kind, _, _ in kept(tmp_path)] == ["craft_seen"]


def test_a_book_whose_storage_is_nearly_full_says_so(keep, monkeypatch, wait_until):
    usage = shutil.disk_usage("/")
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage._replace(free=5 * 2**20))
    keeper = keep()
    assert wait_until(lambda: keeper.trouble)
    assert keeper.trouble.startswith("The storage is nearly full: 5 MiB are left.")


def test_a_day_without_a_book_keeps_the_first_entries_and_says_that_some_are_lost(
    keep, tmp_path, monkeypatch
):
    monkeypatch.setattr(keeper_module, "MOST_WAITING", 3)
    keeper = BookKeeper(tmp_path)
    for serial in "1234":
        keeper.saw(view(serial=serial))
    keeper.start()
    keeper.stop()
    assert [craft for _, craft, _ in kept(tmp_path)] == ["auk 1", "auk 2", "auk 3"]
    assert "lost" in keeper.trouble


def test_what_cannot_be_written_at_the_end_is_told(keep, tmp_path, capfd):
    data = tmp_path / "data"
    data.write_text("a file stands in the way")
    keeper = keep(data)
    keeper.saw(view())
    keeper.stop()
    assert "the last 1 things" in capfd.readouterr().err
    data.unlink()


def test_a_keeper_that_was_never_started_can_be_stopped(tmp_path):
    BookKeeper(tmp_path).stop()
    assert list(tmp_path.iterdir()) == []


def test_the_demonstration_has_a_data_folder_of_its_own(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))

    def folder(*words):
        return _data_folder(_parser().parse_args(words))

    real = folder()
    assert folder("--demo") == real / "demo"
    assert folder("screen") == folder("bus") == real == tmp_path / "boathook"
    assert folder("--demo", "--data", "/elsewhere") == folder("--data", "/elsewhere")


def test_the_screen_keeps_the_book_of_its_data_folder_and_a_replay_keeps_none(monkeypatch, tmp_path):
    handed, commands = [], {}
    monkeypatch.setattr("screens.kiosk.run", lambda _link, *, keeper, **_: handed.append(keeper) or 0)
    monkeypatch.setattr("app.__main__.supervise", lambda parts, ends_all: commands.update(parts) or 0)
    places = ["--run", str(tmp_path / "run"), "--data", str(tmp_path / "data")]
    assert main(["screen", *places]) == 0
    (keeper,) = handed
    keeper.start()
    keeper.stop()
    assert kept(tmp_path / "data") == []

    ride = tmp_path / "ride.log"
    ride.write_text("(1795600000.000000) can0 100#0102030405060708\n")
    assert main(["replay", str(ride), *places]) == 0
    assert main(commands["screen"][3:]) == 0
    assert handed[1] is None
    assert main(["--demo", *places]) == 0
    assert main(commands["screen"][3:]) == 0
    assert isinstance(handed[2], BookKeeper)


def telling(*spns, at, lamps=(), serial="1042", **more):
    """A view of a craft whose engine tells these active faults."""
    faults = [HeardFault(spn, 3, 1, active=True) for spn in spns]
    seen = view(at=at, serial=serial, **more)
    heard = [HeardFaults(0, at, None, list(lamps), faults)]
    return msgspec.structs.replace(seen, snapshot=msgspec.structs.replace(seen.snapshot, heard=heard))


def told(data):
    return [
        (entry.craft, [one["spn"] for one in entry.body["active"]], entry.body["lamps"])
        for entry in stored(data)
        if entry.kind == "faults_told"
    ]


def test_faults_an_engine_tells_are_kept_when_they_become_others(keep, tmp_path):
    keeper = keep()
    for at in range(60, 70):
        keeper.saw(telling(at=float(at)))
    keeper.saw(telling(110, at=71.0, lamps=["malfunction"]))
    keeper.saw(telling(110, at=90.0, lamps=["malfunction"]))
    keeper.saw(telling(110, 100, at=91.0, lamps=["malfunction"]))
    keeper.saw(telling(at=120.0))
    keeper.stop()
    craft = "auk 1042"
    assert told(tmp_path) == [
        (craft, [110], ["malfunction"]),
        (craft, [110, 100], ["malfunction"]),
        (craft, [], []),
    ]
    entries = [entry for entry in stored(tmp_path) if entry.kind == "faults_told"]
    assert headline(entries[0]) == "Active, told by the engine: SPN 110 FMI 3, lamps: malfunction"
    assert headline(entries[2]) == "Active, told by the engine: none any more"
    assert "Engine: SPN 110 FMI 3, Coolant temperature: voltage too high, once" in " ".join(page(entries[1]))


def test_a_loose_wire_does_not_fill_the_book_and_its_end_is_kept(keep, tmp_path):
    keeper = keep()
    for second in range(60):
        keeper.saw(telling(*([110] if second % 2 else []), at=60.0 + second))
    keeper.saw(telling(at=140.0))
    keeper.stop()
    assert 1 < len(told(tmp_path)) <= 7
    assert told(tmp_path)[-1][1] == []


def test_faults_told_belong_to_the_craft_that_tells_them(keep, tmp_path):
    keeper = keep()
    keeper.saw(telling(110, at=60.0))
    keeper.saw(telling(110, at=61.0, serial="1043"))
    keeper.saw(telling(110, at=62.0, serial=None))
    keeper.saw(telling(110, at=63.0, serial="1044", state=LinkState.LOST))
    keeper.stop()
    assert [craft for craft, _, _ in told(tmp_path)] == ["auk 1042", "auk 1043"]
