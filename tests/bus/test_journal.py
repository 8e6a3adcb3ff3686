"""The journal: on the disk before it counts, torn lines and full disks included."""

import errno
import hashlib
import json
import os
import threading

import pytest

from bus.journal import GAP, Journal, read_lines


@pytest.fixture
def path(tmp_path):
    return tmp_path / "deep" / "journal.jsonl"


@pytest.fixture
def opened(path):
    """Opens the journal at the path; every one is stopped in the end."""
    made = []

    def begin(**more):
        journal = Journal(path, clock=lambda: 12.5, wall=lambda: 1_700_000_000.25, boot_id="b", **more)
        journal.start()
        made.append(journal)
        return journal

    yield begin
    for journal in made:
        if journal._thread.is_alive():
            journal.stop()


@pytest.fixture
def put(wait_until):
    def put(journal, kind, /, **body):
        ticket = journal.put(kind, **body)
        assert wait_until(lambda: ticket.synced or ticket.failed)
        return ticket

    return put


def lines(path):
    return path.read_bytes().split(b"\n")


def test_an_entry_stands_in_the_file_before_its_ticket_says_so(opened, path, put, monkeypatch):
    journal = opened()
    seen = []
    honest = os.fsync

    def fsync(number):
        seen.append(path.read_bytes())
        honest(number)

    monkeypatch.setattr(os, "fsync", fsync)
    ticket = put(journal, "output_start", craft="auk 1", fuel_cm3=0.5)
    assert ticket.synced
    assert b"output_start" in seen[-1]
    entry = json.loads(lines(path)[0])
    assert entry["kind"] == "output_start"
    assert entry["body"] == {"craft": "auk 1", "fuel_cm3": 0.5}
    assert (entry["n"], entry["mono"], entry["wall"], entry["boot"]) == (1, 12.5, 1_700_000_000.25, "b")


def test_a_ticket_is_open_until_the_disk_has_it(path, monkeypatch, wait_until):
    journal = Journal(path)
    gate = threading.Event()
    honest = os.fsync
    monkeypatch.setattr(os, "fsync", lambda number: (gate.wait(10), honest(number)))
    journal.start()
    ticket = journal.put("note")
    assert wait_until(lambda: path.stat().st_size > 0)
    assert not ticket.synced
    assert [entry["kind"] for entry in journal.told] == ["note"]
    assert journal.entries == []
    gate.set()
    assert wait_until(lambda: ticket.synced)
    assert [entry["kind"] for entry in journal.entries] == ["note"]
    journal.stop()


def test_every_line_carries_the_hash_of_the_line_before(opened, path, put):
    journal = opened()
    for number in range(3):
        put(journal, "note", number=number)
    raw = lines(path)
    entries = [json.loads(line) for line in raw[:3]]
    # SHA-256 by the standard library over the bytes of the line before, without its end
    assert [entry["prev"] for entry in entries] == [
        "",
        *(hashlib.sha256(line).hexdigest()[:32] for line in raw[:2]),
    ]
    assert [entry["n"] for entry in entries] == [1, 2, 3]


def test_a_restart_finds_everything_and_goes_on_counting(opened, path, put):
    first = opened()
    put(first, "one")
    put(first, "two")
    first.stop()
    second = opened()
    assert [entry["kind"] for entry in second.entries] == ["one", "two"]
    assert (second.at_start, second.gaps, second.damaged) == (2, 0, 0)
    put(second, "three")
    third = opened()
    assert [entry["n"] for entry in third.entries] == [1, 2, 3]
    assert third.gaps == 0


@pytest.mark.parametrize("cut", [1, 2, 5, 40])
def test_a_torn_last_line_is_ended_and_costs_nothing_but_itself(opened, path, put, cut):
    first = opened()
    put(first, "one")
    put(first, "two")
    first.stop()
    path.write_bytes(path.read_bytes()[:-cut])
    second = opened()
    whole = cut == 1  # only the end of the line is gone
    assert [entry["kind"] for entry in second.entries] == (["one", "two"] if whole else ["one"])
    assert (second.damaged, second.gaps) == (0 if whole else 1, 0)
    put(second, "three")
    third = opened()
    assert [entry["kind"] for entry in third.entries][-1] == "three"
    assert third.gaps == 0


@pytest.mark.parametrize("garbage", [b"\x00" * 40, b"\xff\xfe\n", b"[]\n", b'{"kind":"x"}\n', b"\n\n"])
def test_what_is_no_entry_is_stepped_over(opened, path, put, garbage):
    first = opened()
    put(first, "one")
    first.stop()
    with path.open("ab") as file:
        file.write(garbage)
    second = opened()
    assert [entry["kind"] for entry in second.entries] == ["one"]
    put(second, "two")
    assert [entry["kind"] for entry in opened().entries] == ["one", "two"]


@pytest.mark.parametrize("which", [0, 1])
@pytest.mark.parametrize("how", ["changed", "removed"])
def test_a_line_that_was_changed_or_taken_out_shows(opened, path, put, how, which):
    first = opened()
    for fuel in (0.5, 0.6, 0.7):
        put(first, "output_start", fuel_cm3=fuel)
    first.stop()
    raw = path.read_bytes().splitlines(keepends=True)
    raw[which] = raw[which].replace(b'"fuel_cm3":0.', b'"fuel_cm3":9.') if how == "changed" else b""
    path.write_bytes(b"".join(raw))
    second = opened()
    assert second.gaps == 1
    assert [entry["kind"] for entry in second.told].count(GAP) == 1
    put(second, "two")


@pytest.mark.parametrize("written", [0, 1, 30, "fails", "sync"])
def test_a_full_disk_fails_the_ticket_and_leaves_nothing_half_written(
    opened, path, put, monkeypatch, written
):
    journal = opened()
    put(journal, "one")
    before = path.read_bytes()
    honest_write, honest_sync = os.write, os.fsync

    def write(number, data):
        if number != journal._fd:
            return honest_write(number, data)
        if written == "fails":
            raise OSError(errno.ENOSPC, "No space left on device")
        return honest_write(number, data if written == "sync" else data[:written])

    def fsync(number):
        if written == "sync" and number == journal._fd:
            raise OSError(errno.EIO, "Input/output error")
        honest_sync(number)

    monkeypatch.setattr(os, "write", write)
    monkeypatch.setattr(os, "fsync", fsync)
    ticket = put(journal, "output_start")
    assert not ticket.synced
    assert ticket.failed.startswith("The journal cannot be written: ")
    assert path.read_bytes() == before
    assert [entry["kind"] for entry in journal.entries] == ["one"]
    assert "output_start" in [entry["kind"] for entry in journal.told]
    monkeypatch.undo()
    assert put(journal, "three").synced
    again = opened()
    assert [entry["kind"] for entry in again.entries] == ["one", "three"]
    assert (again.gaps, again.damaged) == (0, 0)


def test_where_even_taking_back_fails_the_torn_line_is_ended_first(opened, path, put, monkeypatch):
    journal = opened()
    put(journal, "one")
    honest = os.write
    monkeypatch.setattr(os, "write", lambda number, data: honest(number, data[:20]))

    def ftruncate(number, size):
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(os, "ftruncate", ftruncate)
    assert not put(journal, "two").synced
    monkeypatch.undo()
    assert put(journal, "three").synced
    again = opened()
    assert [entry["kind"] for entry in again.entries] == ["one", "three"]
    assert (again.gaps, again.damaged) == (0, 1)


def test_an_entry_that_cannot_be_written_down_fails_alone(opened, put, capsys):
    journal = opened()
    assert "cannot hold" in put(journal, "bad", data=b"bytes").failed
    assert put(journal, "good").synced
    assert [entry["kind"] for entry in journal.entries] == ["good"]
    assert "cannot hold" in capsys.readouterr().err


def test_a_line_nested_without_end_is_a_damaged_line(opened, path, put):
    put(opened(), "one")
    with path.open("ab") as file:
        file.write(b'{"kind":"two","body":' + b'{"a":' * 100_000 + b"\n" + b"[" * 100_000 + b"\n")
    again = opened()
    assert [entry["kind"] for entry in again.entries] == ["one"]
    assert again.damaged == 2
    assert put(again, "three").synced


def test_a_body_may_have_a_kind_of_its_own(opened, path, put):
    put(opened(), "output_start", kind="injector")
    assert json.loads(lines(path)[0])["body"] == {"kind": "injector"}


def test_stopping_writes_what_waits(path):
    journal = Journal(path)
    tickets = [journal.put("note", number=number) for number in range(50)]
    journal.start()
    journal.stop()
    assert all(ticket.synced for ticket in tickets)
    assert [entry["body"]["number"] for _, entry in read_lines(path)] == list(range(50))


def test_many_threads_may_ask_and_nothing_is_lost_or_doubled(opened, path, wait_until):
    journal = opened()
    tickets = []

    def ask(who):
        for number in range(50):
            tickets.append(journal.put("note", who=who, number=number))  # noqa: PERF401 - appended by many

    threads = [threading.Thread(target=ask, args=(who,)) for who in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(20)
    assert wait_until(lambda: all(ticket.synced for ticket in tickets))
    entries = [entry for _, entry in read_lines(path)]
    assert [entry["n"] for entry in entries] == list(range(1, 201))
    assert len({(entry["body"]["who"], entry["body"]["number"]) for entry in entries}) == 200


def test_only_the_owner_may_read_it(opened, path):
    opened()
    assert path.stat().st_mode & 0o777 == 0o600


def test_a_new_journals_name_is_synced_too(path, monkeypatch):
    synced = []
    honest = os.fsync
    monkeypatch.setattr(os, "fsync", lambda number: (synced.append(os.fstat(number)), honest(number)))
    journal = Journal(path)
    assert [entry.st_ino for entry in synced] == [path.parent.stat().st_ino]
    os.close(journal._fd)
