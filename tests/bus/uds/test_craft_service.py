"""From the hub over the wall and back: a craft is recognised, read, and its outputs are considered."""

import json
import threading
import time

import pytest

from app.interlock import Need
from app.output_messages import AskReport, ClearFaults, Confirm, Consider, Press, ReadFaults, SignIn
from bus import process, scan_command
from bus.adapter import Adapter
from bus.client import WallClient
from bus.craft import craft_service, read_only_service
from bus.gate import Gate
from bus.hub import Hub
from bus.journal import read_lines
from bus.wall import Wall


class Tool:
    """The bus process's parts in a thread, and a client at its wall."""

    def __init__(self, craft, folder, families, make=craft_service):
        self.folder = folder
        self.gate = Gate(Adapter("virtual", "test"), open_wire=craft.open_wire)
        self.service = make(self.gate, folder / "journal.jsonl")
        self.wall = Wall(folder / "wall", self.service.ask)
        self.hub = Hub(
            self.gate, self.gate.outlet(), families, lambda: None, recognised=self.service.recognised
        )
        self.done = threading.Event()
        self.thread = threading.Thread(
            target=process._serve, args=(self.hub, self.wall, self.service, self.done)
        )
        self.client = WallClient(folder / "wall")
        self.gate.start()
        self.service.start()
        self.thread.start()

    def see(self, condition, seconds=15.0):
        """The first view of which it is true."""
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            view = self.client.poll()
            if view.snapshot is not None and condition(view):
                return view
            time.sleep(0.005)
        raise AssertionError(f"it did not come; last seen: {self.client.poll().snapshot}")

    def end(self):
        if self.done.is_set():
            return
        self.done.set()
        self.thread.join(5)
        self.client.close()
        self.gate.stop()
        self.service.stop()
        self.wall.close()

    def journal(self, kind):
        lines = read_lines(self.folder / "journal.jsonl")
        return [entry["body"] for _, entry in lines if entry is not None and entry["kind"] == kind]


@pytest.fixture
def open_tool(craft, tmp_path, auk, quick):
    tools = []

    def begin(families=(auk,), **options):
        tools.append(Tool(craft, tmp_path, families, **options))
        return tools[-1]

    yield begin
    for tool in tools:
        tool.end()


def found(view):
    return view.catalogue is not None and view.snapshot.craft is not None


def test_the_catalogue_names_controllers_and_outputs(open_tool):
    catalogue = open_tool().see(found).catalogue
    assert catalogue.modules == ["Engine controller", "Display"]
    infos = {info.key: info for info in catalogue.outputs}
    assert infos["injector_1"].pulses == 20
    assert infos["injector_1"].fuel_cm3 == pytest.approx(0.5)
    assert infos["fan"].released
    assert all(info.released for info in infos.values())


def test_faults_are_read_and_cleared_over_the_wall(open_tool, craft, stored):
    craft.engine.faults = {0x011700: stored(0x2F)}
    tool = open_tool()
    assert tool.see(found).snapshot.report == 0
    tool.client.ask(ReadFaults())
    view = tool.see(lambda view: view.report is not None)
    assert (view.report.number, view.snapshot.report) == (1, 1)
    assert [fault.code for fault in view.report.faults] == ["P0117"]
    tool.client.ask(SignIn("Ann Example", "technician"))
    tool.see(lambda view: view.snapshot.operator == "Ann Example")
    tool.client.ask(ClearFaults(1, time.monotonic()))
    view = tool.see(lambda view: view.report is not None and view.report.number == 2)
    assert view.report.trouble == ""
    assert view.report.faults == []
    assert tool.journal("clear_intent")[0]["operator"] == "Ann Example"


def test_while_it_works_the_snapshot_tells_what_it_does(open_tool, craft):
    craft.engine.script = lambda pdu: [0.2, craft.engine.answer(pdu)]
    tool = open_tool()
    tool.see(found)
    tool.client.ask(ReadFaults())
    job = tool.see(lambda view: view.snapshot.job is not None and view.snapshot.job.steps).snapshot.job
    assert job.kind == "scan"
    tool.see(lambda view: view.snapshot.job is None and view.report is not None)


def test_the_needs_of_an_output_cross_the_wall(open_tool):
    tool = open_tool()
    tool.see(found)
    tool.client.ask(Consider("fan"))
    output = tool.see(lambda view: view.snapshot.output is not None).snapshot.output
    assert output.output == "fan"
    missing = {need.need for need in output.needs if need.holds is not True}
    assert {Need.ROLE, Need.LANYARD_PROVED, Need.NO_SMELL} <= missing
    tool.client.ask(SignIn("Ann Example", "technician"))
    tool.client.ask(Confirm("no_smell", time.monotonic()))
    view = tool.see(
        lambda view: (
            not {Need.ROLE, Need.NO_SMELL}
            & {need.need for need in view.snapshot.output.needs if need.holds is not True}
        )
    )
    assert not view.snapshot.output.ready


def test_a_press_without_its_needs_is_refused_and_moves_nothing(open_tool, craft):
    tool = open_tool()
    tool.see(found)
    tool.client.ask(Consider("fan"))
    tool.client.ask(Press("fan", 1, time.monotonic()))
    output = tool.see(
        lambda view: view.snapshot.output is not None and view.snapshot.output.press == 1
    ).snapshot.output
    assert output.phase == "refused"
    assert craft.sent == []


def test_speed_that_was_seen_is_proved_for_this_controller_over_a_restart(open_tool, craft):
    craft.speed = 800.0
    tool = open_tool()
    tool.see(lambda view: found(view) and tool.journal("proved"))
    [entry] = tool.journal("proved")
    assert entry["craft"] == "auk 1042"
    tool.end()
    craft.speed = 0.0
    for serial, proved in ((1042, True), (1043, False)):
        craft.serial = serial
        tool = open_tool()
        tool.see(lambda view, serial=serial: found(view) and view.snapshot.craft.serial == str(serial))
        tool.client.ask(Consider("fan"))
        tool.see(
            lambda view, proved=proved: (
                holds(view, Need.CONTROLLER_KNOWN) and holds(view, Need.SPEED_PROVED) is proved
            )
        )
        tool.end()


def holds(view, need):
    output = view.snapshot.output
    return {one.need: one.holds for one in output.needs}.get(need) if output is not None else None


def test_a_read_only_service_can_fire_and_change_nothing(open_tool, craft, stored):
    craft.engine.faults = {0x011700: stored(0x2F)}
    tool = open_tool(make=lambda gate, _path: read_only_service(gate))
    tool.see(found)
    tool.client.ask(SignIn("Ann Example", "technician"))
    tool.client.ask(Consider("injector_1"))
    tool.client.ask(Press("injector_1", 1, time.monotonic()))
    tool.client.ask(ReadFaults())
    view = tool.see(lambda view: view.report is not None)
    tool.client.ask(ClearFaults(view.report.number, time.monotonic()))
    view = tool.see(lambda view: view.report is not None and view.report.number == 2)
    assert "not among the requests" in view.report.trouble
    assert view.snapshot.output is None
    assert {data[1] for _, data in craft.sent if data[0] >> 4 == 0} <= {0x19, 0x22}


def test_a_journal_that_cannot_be_opened_leaves_reading(open_tool, tmp_path, capsys, craft):
    (tmp_path / "journal.jsonl").mkdir()
    tool = open_tool()
    tool.see(found)
    assert "nothing can be cleared or fired" in capsys.readouterr().err
    tool.client.ask(ReadFaults())
    assert tool.see(lambda view: view.report is not None).report.trouble == ""


def test_a_craft_whose_controllers_cannot_be_asked_says_so(open_tool):
    tool = open_tool(families=())
    tool.see(lambda view: view.connected)
    tool.client.ask(ReadFaults())
    report = tool.see(lambda view: view.report is not None).report
    assert "No craft is heard" in report.trouble
    tool.client.ask(AskReport())  # an extra question does no harm
    assert tool.see(lambda view: view.report is not None).report == report


def run_attached(tool, capsys, **options):
    code = scan_command.attached(
        tool.client, open_out := Out(), **{"as_json": True, "seconds": 15.0, **options}
    )
    return code, open_out.text


class Out:
    text = ""

    def write(self, words):
        self.text += words

    def flush(self):
        pass


def test_scan_attached_prints_the_report_as_json(open_tool, craft, stored, capsys):
    craft.engine.faults = {0x011700: stored(0x2F)}
    code, text = run_attached(open_tool(), capsys)
    report = json.loads(text)
    assert code == 0
    assert [fault["code"] for fault in report["faults"]] == ["P0117"]
    assert report["identity"][0]["value"] == "AUK12345L526"


def test_scan_with_a_module_that_does_not_answer_fails_and_never_says_no_faults(open_tool, craft, capsys):
    craft.display.script = lambda pdu: []
    code, text = run_attached(open_tool(), capsys, as_json=False)
    assert code == 1
    assert "Engine controller: no faults" in text
    assert "Display: NOT READ. Display did not answer." in text


def test_scan_under_way_is_refused(open_tool, craft, capsys):
    craft.speed = 3000.0
    code, text = run_attached(open_tool(), capsys, as_json=False)
    assert code == 3
    assert "Under way, 3000 rev/min" in text
    assert craft.sent == []


def test_scan_without_a_craft_ends_in_time(open_tool, craft, capsys):
    craft.awake = False
    code, text = run_attached(open_tool(), capsys, seconds=0.5)
    assert (code, text) == (1, "")
    assert "No craft" in capsys.readouterr().err


def test_scan_alone_opens_the_adapter_itself_and_only_reads(craft, auk, quick, monkeypatch, stored):
    craft.engine.faults = {0x011700: stored(0x2F)}
    monkeypatch.setattr(scan_command, "Gate", lambda adapter: Gate(adapter, open_wire=craft.open_wire))
    out = Out()
    code = scan_command.alone(Adapter("virtual", "test"), [auk], out, as_json=True, seconds=15.0)
    assert code == 0
    assert [fault["code"] for fault in json.loads(out.text)["faults"]] == ["P0117"]
    assert {data[1] for _, data in craft.sent if data[0] >> 4 == 0} <= {0x19, 0x22}


def test_scan_alone_of_a_silent_bus_asks_nothing(craft, auk, quick, monkeypatch, capsys):
    craft.awake = False
    monkeypatch.setattr(scan_command, "Gate", lambda adapter: Gate(adapter, open_wire=craft.open_wire))
    out = Out()
    assert scan_command.alone(Adapter("virtual", "test"), [auk], out, as_json=True, seconds=0.5) == 1
    assert out.text == ""
    assert craft.sent == []
    assert "Nothing is heard" in capsys.readouterr().err
