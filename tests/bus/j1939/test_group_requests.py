"""Requests for parameter groups byte by byte, and that nothing that comes back is a yes by mistake."""

import shutil
import threading

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.errors import ControllerError, ControllerRefused
from bus.exchange import Exchange, Outcome, Result
from bus.family import SHIPPED, check_folder, load_family
from bus.frame import EXTENDED, Frame
from bus.group_asker import GroupAsker, control_of
from bus.group_form import GroupData
from bus.group_requests import before_request, clear_requests, group_requests, tools
from bus.journal import Ticket

ENGINE = GroupData("Engine controller", 0, clears=True)
DM11 = clear_requests(ENGINE)["DM11"]


def test_the_bytes_are_those_of_the_notes_on_standards():
    # standards.md 5.4: DM11 D3 FE 00, DM3 CC FE 00, DM2 CB FE 00; 5.3: 18EAFF44 is group 59904 to FF from 44.
    clears = clear_requests(ENGINE)
    assert {name: one.pdu.hex(" ").upper() for name, one in clears.items()} == {
        "DM11": "D3 FE 00",
        "DM3": "CC FE 00",
    }
    assert list(clears) == ["DM11", "DM3"]
    assert before_request(ENGINE).pdu.hex(" ").upper() == "CB FE 00"
    assert before_request(ENGINE).request & 0x1FFFFFFF == 0x18EAFF44 & ~0xFF | 0xF9
    assert clears["DM11"].request & 0x1FFFFFFF == 0x18EA0000 | 0xF9


def test_only_a_family_that_says_so_can_be_cleared_and_a_read_only_tool_never():
    silent = GroupData("Engine controller", 3)
    assert clear_requests(silent) == {}
    assert group_requests(silent) == {before_request(silent)}
    assert group_requests(ENGINE, writing=False) == {before_request(ENGINE)}
    assert group_requests(None) == tools(None) == frozenset()


@pytest.mark.parametrize(
    ("ident", "ours"),
    [
        (0x18E8FF00, True),
        (0x18E8F900, True),
        (0x00E8FF00, True),  # receivers must not depend on the priority: standards.md 5.5
        (0x1CE8FF00, True),
        (0x18E8FF01, False),
        (0x18E84400, False),
        (0x18EAFF00, False),
        (0x19E8FF00, False),
    ],
)
def test_an_answer_is_an_acknowledgement_of_who_was_asked_to_us_or_to_all(ident, ours):
    assert DM11.answered_by(EXTENDED | ident) is ours
    assert not DM11.answered_by(ident & 0x7FF)
    assert not DM11.answered_by(ident)  # the same bits as an identifier of 11


@pytest.mark.parametrize(
    ("data", "control"),
    [
        ("00 FF FF FF F9 D3 FE 00", 0),
        ("01 FF FF FF F9 D3 FE 00", 1),
        ("03 FF FF FF FF D3 FE 00", 3),
        ("00 FF FF FF F9 CC FE 00", None),  # of another group
        ("00 FF FF FF 44 D3 FE 00", None),  # somebody else asked
        ("00 FF FF FF F9 D3 FE", None),
        ("", None),
    ],
)
def test_an_acknowledgement_is_of_this_group_and_of_our_asking(data, control):
    assert control_of(bytes.fromhex(data), DM11.pdu) == control


class Door:
    """A gate that admits everything; after the request has gone, these answers come."""

    def __init__(self, answers):
        self.answers, self.sent, self.ended = list(answers), [], []

    def admit(self, request, intent=None, why=""):
        del intent, why
        return Exchange(request)

    def transmit(self, exchange, ident, data):
        assert exchange.let_out(ident, data)
        self.sent.append((ident, data))
        if len(self.sent) % 2 == 0:
            exchange.feed(Frame(0.0, ident, data) for ident, data in self.answers)

    def finish(self, exchange):
        exchange.close()
        self.ended.append(exchange)


@pytest.fixture
def brief(monkeypatch):
    monkeypatch.setattr("bus.group_asker.CLAIM_S", 0.0)
    monkeypatch.setattr("bus.group_asker.ACKNOWLEDGED_S", 0.003)


def asker(door):
    return GroupAsker(door, "Engine controller", lambda words: None, lambda seconds: False, why="clear")


IDENTS = st.one_of(
    st.sampled_from([EXTENDED | 0x18E8FF00, EXTENDED | 0x18E8F900, EXTENDED | 0x18E8FF01, 0x0E8]),
    st.integers(0, 0xFFFFFFFF),
)
BYTES = st.one_of(
    st.binary(max_size=8),
    st.builds(
        lambda control, by, group: bytes([control, 0xFF, 0xFF, 0xFF, by]) + group,
        st.integers(0, 255),
        st.sampled_from([0xF9, 0xFF, 0x44]),
        st.sampled_from([one.pdu for one in clear_requests(ENGINE).values()]),
    ),
)


@settings(max_examples=300)
@given(answers=st.lists(st.tuples(IDENTS, BYTES), max_size=5))
def test_any_frames_are_a_yes_only_if_the_first_that_fits_is_one(answers):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("bus.group_asker.CLAIM_S", 0.0)
        patch.setattr("bus.group_asker.ACKNOWLEDGED_S", 0.003)
        door = Door(answers)
        fits = [
            data[0]
            for ident, data in answers
            if ident >= EXTENDED
            and ident >> 16 & 0x3FF == 0xE8
            and ident >> 8 & 0xFF in (0xF9, 0xFF)
            and ident & 0xFF == 0
            and len(data) == 8
            and data[4] in (0xF9, 0xFF)
            and data[5:] == DM11.pdu
        ]
        if fits[:1] == [0]:
            asker(door).tell(DM11, Ticket())
        else:
            with pytest.raises(ControllerError, match=r"^Engine controller ") as told:
                asker(door).tell(DM11, Ticket())
            assert isinstance(told.value, ControllerRefused) == bool(fits)
        [ended] = door.ended
        assert (ended.outcome.result is Result.ANSWERED) == (fits[:1] == [0])


def test_what_is_acknowledged_before_the_request_has_left_counts_for_nothing(brief, monkeypatch):
    monkeypatch.setattr("bus.group_asker.CLAIM_S", 0.05)
    door = Door([])
    transmit = door.transmit

    def early(exchange, ident, data):
        transmit(exchange, ident, data)
        if len(door.sent) == 1:
            exchange.feed([Frame(0.0, EXTENDED | 0x18E8FF00, bytes.fromhex("00FFFFFFF9D3FE00"))])

    door.transmit = early
    with pytest.raises(ControllerError, match="did not acknowledge"):
        asker(door).tell(DM11, Ticket())


def test_the_request_waits_until_the_claim_could_be_contested(monkeypatch):
    # 250 ms, SAE J1939-81 (from memory). Here the exchange is cut in that time: nothing more may leave.
    door = Door([])
    transmit = door.transmit

    def cut(exchange, ident, data):
        transmit(exchange, ident, data)
        threading.Timer(0.1, exchange.close).start()

    door.transmit = cut
    with pytest.raises(ControllerError, match="cut off"):
        asker(door).tell(DM11, Ticket())
    assert len(door.sent) == 1


def test_a_reading_that_is_cut_off_is_asked_once_more_and_no_more(brief):
    door = Door([])
    transmit = door.transmit

    def cut(exchange, ident, data):
        transmit(exchange, ident, data)
        if len(door.sent) % 2 == 0:
            exchange.close()

    door.transmit = cut
    with pytest.raises(ControllerError, match="cut off"):
        asker(door).call(before_request(ENGINE), lambda: False, 0.1)
    assert [data.hex() for _, data in door.sent[1::2]] == ["cbfe00"] * 2


def test_what_never_comes_is_said_in_the_journal(brief):
    door = Door([])
    assert asker(door).call(before_request(ENGINE), lambda: False, 0.05) is False
    assert door.ended[0].outcome == Outcome(Result.SILENT, words="Nothing came within 0.05 s.")


def family_with(tmp_path, old, new):
    for name in ("family.toml", "signals.dbc"):
        (tmp_path / name).write_text((SHIPPED / "tern" / name).read_text("utf-8"), "utf-8")
    file = tmp_path / "family.toml"
    text = file.read_text("utf-8")
    assert text.count(old) == 1
    file.write_text(text.replace(old, new), "utf-8")
    return check_folder(tmp_path)[1]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('engine_speed_second = "ShaftSpeed"\n', "", "no role engine_speed_second"),
        ('serial = "ControllerSerial"\n', "", "no role serial"),
        ('battery = "BatteryVoltage"\n', "", "no role battery"),
        ("address = 0", "address = 254", "an address, 0 to 247"),
        ("address = 0", "adress = 0", "adress"),
        ("clears = true", 'clears = "yes"', "clears"),
        ('label = "Engine controller"\naddress', "address", "label"),
        ("[j1939]", "[uds]\npadding = 0\n[j1939]", "both [uds] and [j1939]"),
    ],
)
def test_a_section_that_is_not_sound_is_a_load_error_with_its_mend(tmp_path, old, new, words):
    errors = family_with(tmp_path, old, new)
    assert any(words in error.what or words in error.mend for error in errors), [str(each) for each in errors]
    assert all(error.mend for error in errors)


@pytest.mark.parametrize(("group", "ms", "role"), [(2566846462, 999, "battery"), (2566853118, 250, "second")])
def test_a_value_that_comes_too_seldom_to_be_known_is_a_load_error(tmp_path, group, ms, role):
    folder = tmp_path / "tern"
    shutil.copytree(SHIPPED / "tern", folder)
    file = folder / "signals.dbc"
    lines = file.read_text("utf-8").splitlines(keepends=True)
    at = f'BA_ "GenMsgCycleTime" BO_ {group} '
    file.write_text("".join(f"{at}{ms};\n" if line.startswith(at) else line for line in lines), "utf-8")
    [error] = check_folder(folder)[1]
    assert role in error.what
    assert f"{ms} ms" in error.what


def test_a_family_that_is_only_read_needs_no_second_speed(tmp_path):
    folder = tmp_path / "tern"
    shutil.copytree(SHIPPED / "tern", folder)
    file = folder / "family.toml"
    text = file.read_text("utf-8").replace("clears = true\n", "")
    file.write_text(text.replace('engine_speed_second = "ShaftSpeed"\n', ""), "utf-8")
    assert load_family(folder).j1939 == GroupData("Engine controller")
