"""Faults are read and cleared by touch, through both processes, and what was seen stands in the book."""

import json
import time

import pytest

pytestmark = pytest.mark.glass


@pytest.fixture(autouse=True)
def sound(bench):
    """Every test begins with controllers that answer, and leaves no violation."""
    yield
    bench.craft.ask(do="uds_silent", on=False)
    assert bench.violations() == []


def read(bench):
    """Read the faults by touch; returns the words of the page."""
    bench.read_faults()
    return bench.words()


def requests(bench):
    """Payloads the craft's controllers received, as hexadecimal digits."""
    entries = bench.craft.ask(do="ledger")["entries"]
    return [entry["request"] for entry in entries if entry["what"] == "request"]


def test_two_touches_read_the_faults_and_nothing_but_reading_is_sent(bench):
    for code in ("P0117", "P0122"):
        bench.craft.ask(do="fault", code=code, on=True)
    touches = len(bench.kiosk.touches())
    bench.glass.tap("Check")
    bench.glass.wait_for_screen("check/faults")
    bench.glass.tap("Read faults")
    bench.until(lambda: "P0117" in bench.words() and bench.reads_key(), "the faults are on the glass", 30.0)
    assert len(bench.kiosk.touches()) - touches == 2
    words = bench.words()
    assert "Coolant temperature sensor circuit low" in words
    assert "P0122" in words
    assert "together" in words
    assert {request[:2] for request in requests(bench)} <= {"22", "19"}


def test_an_unknown_code_is_a_number_and_never_a_name(bench):
    bench.craft.ask(do="fault", code="P1ABC", on=True)
    words = read(bench)
    assert "P1ABC" in words
    assert "1A BC 00" in words.upper() or "1ABC00" in words.upper()
    assert "not in this family" in words
    bench.craft.ask(do="fault", code="P1ABC", on=False)


def test_details_show_the_snapshot_with_units(bench):
    read(bench)
    bench.glass.tap("Details")
    bench.glass.wait_for_screen("check/fault")
    seen = set()
    for _ in range(4):
        shown = bench.glass.shown()
        seen.update(shown["words"])
        more = next((key["text"] for key in shown["keys"] if key["text"].startswith("More")), None)
        if more is None:
            break
        bench.glass.tap(more)
    words = " ".join(seen).replace("\xa0", " ")
    for unit in ("rev/min", "°C", " V", "kPa", " h"):
        assert unit in words
    bench.glass.tap("Back")
    bench.glass.wait_for_screen("check/faults")


def test_a_controller_that_does_not_answer_is_never_one_without_faults(bench):
    bench.craft.ask(do="uds_silent", on=True)
    words = read(bench)
    assert "NOT" in words
    assert "Engine controller" in words
    assert "No faults" not in words


BAD = ("nonsense", "other_service", "late", "truncated", "never", "wrong_length")


@pytest.mark.parametrize("kind", BAD)
def test_a_bad_answer_is_a_plain_sentence_and_the_next_reading_works(bench, kind):
    bench.craft.ask(do="answer", service="19", kind=kind, count=1)
    before = len(requests(bench))
    words = read(bench)
    assert "NOT" in words
    assert "Traceback" not in words
    assert {request[:2] for request in requests(bench)[before:]} <= {"22", "19"}
    assert "P0117" in read(bench)


def test_a_controller_that_asks_for_more_time_for_ever_is_given_up(bench):
    bench.craft.ask(do="pending", service="19", forever=True)
    words = read(bench)
    assert "NOT" in words
    bench.craft.ask(do="pending", service="19", times=0)
    bench.craft.ask(do="key", on=False)  # it is still at the request it never ended
    bench.until(lambda: "lost" in bench.glass.shown()["strip"]["engine"], "the bus is silent", 10.0)
    bench.craft.ask(do="key", on=True)
    bench.until(lambda: "key on" in bench.glass.shown()["strip"]["engine"], "the craft is back", 10.0)
    assert "P0117" in read(bench)


def test_clearing_saves_first_asks_clears_reads_again_and_says_what_came_back(bench):
    bench.craft.ask(do="fault", code="P0122", on=False)
    read(bench)
    bench.glass.tap("Clear")
    bench.glass.wait_for_screen("check/clear")
    time.sleep(1.0)  # keys of this page that act take no touch before a person can have read it
    bench.glass.tap("Sign in Mara")
    before = len(requests(bench))
    clear = bench.until(
        lambda: next(
            (key["text"] for key in bench.glass.shown()["keys"] if key["text"].startswith("Clear ")), None
        ),
        "the key that clears",
        5.0,
    )
    time.sleep(1.0)  # see above
    assert not any(request.startswith("14") for request in requests(bench)), "nothing before the last touch"
    bench.glass.tap(clear)
    bench.until(lambda: any(request.startswith("14") for request in requests(bench)), "it clears", 20.0)
    bench.craft.ask(do="fault", code="P0117", on=True)  # its wire is still broken: it sets again
    bench.until(lambda: "1 came back" in bench.words(), "the result", 40.0)
    sent = requests(bench)[before:]
    assert [request[:2] for request in sent].index("14") > 0, "read once more before clearing"
    assert sent[-1][:2] == "19", "read again afterwards"
    journal = [
        json.loads(line) for line in (bench.kiosk.folder / "data" / "journal.jsonl").read_text().splitlines()
    ]
    kinds = [entry["kind"] for entry in journal]
    saved = journal[kinds.index("clear_intent")]
    assert {fault["code"] for fault in saved["body"]["faults"]} >= {"P0117", "P0122"}
    assert "P0117 after " in bench.words()


def test_the_book_holds_scans_and_the_clear_and_is_sound(bench):
    def entries():
        done = bench.kiosk.run("book", "list", "--json", "--limit", "200", *bench.kiosk.places[2:])
        return [one["entry"] for one in json.loads(done.stdout)["entries"]] if done.returncode == 0 else []

    bench.until(
        lambda: {"scan", "clear", "craft_seen", "sign_in"} <= {entry["kind"] for entry in entries()},
        "the book holds them",
        20.0,
    )
    clear = next(entry for entry in entries() if entry["kind"] == "clear")
    assert clear["operator"] == "Mara"
    assert {fault["code"] for fault in clear["body"]["before"]} >= {"P0117", "P0122"}
    verified = bench.kiosk.run("book", "verify", *bench.kiosk.places[2:])
    assert verified.returncode == 0, verified.stdout


def test_scan_attaches_to_the_running_tool_and_prints_one_object(bench):
    done = bench.kiosk.run("scan", "--json", *bench.kiosk.places)
    assert done.returncode == 0, done.stderr
    report = json.loads(done.stdout)
    assert {module["key"] for module in report["modules"]} == {"engine", "display"}
    assert all(module["read"] for module in report["modules"])
    assert any(line["label"] == "Hull number" and line["value"] for line in report["identity"])
