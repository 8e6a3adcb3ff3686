"""Faults of a controller on SAE J1939: read, saved, cleared by DM11 and DM3, read again; every no."""

import time

import pytest

from app.output_messages import ClearFaults, ReadFaults
from bus.clear_job import INTENT
from bus.frame import EXTENDED

CLEARS = [bytes.fromhex("D3FE00"), bytes.fromhex("CCFE00")]  # DM11, DM3: standards.md 5.4


def code(one):
    return one.code.replace("\u00a0", " ")


def told(report):
    return {(code(one), one.failed_now) for one in report.faults}


def asked(served):
    """Data of every request that left, in order."""
    return [data for ident, data in served.wire.sent if ident >> 16 & 0xFF == 0xEA]


def fail(served, *signals):
    """Sensors fail; until the engine has told so."""
    for signal in signals:
        served.wire.craft.act({"do": "plant", "signal": signal, "kind": "error"})

    def heard(now):
        return now.heard and sum(one.active for one in now.heard[0].faults) == len(signals)

    served.until(heard)


def mend(served):
    served.wire.craft.act({"do": "mend"})
    served.until(lambda now: now.heard and not any(one.active for one in now.heard[0].faults))


def clear(served, report):
    return served.run(ClearFaults(report.number, time.monotonic()))


@pytest.fixture
def holding(served):
    """With one fault that is active and three that were, and a technician signed in."""
    fail(served, "IntakeTemperature", "OilPressure", "OilTemperature")
    mend(served)
    fail(served, "CoolantTemperature")
    served.sign_in()
    return served


def test_reading_asks_for_what_was_before_and_tells_both(holding):
    report = holding.run(ReadFaults())
    assert [(module.label, module.read, module.words) for module in report.modules] == [
        ("Engine controller", True, "")
    ]
    assert told(report) == {
        ("SPN 110 FMI 3", True),
        ("SPN 105 FMI 3", False),
        ("SPN 100 FMI 3", False),
        ("SPN 175 FMI 3", False),
    }
    assert report.faults[0].text == "Coolant temperature: voltage too high"
    assert report.craft == f"tern {holding.wire.craft.bench.serial}"
    assert asked(holding) == [bytes.fromhex("CBFE00")]


def test_no_fault_is_told_by_who_was_asked(served):
    report = served.run(ReadFaults())
    assert (report.faults, report.trouble) == ([], "")
    assert report.modules[0].read


def test_it_is_saved_cleared_and_read_again(holding):
    mend(holding)
    report = holding.run(ReadFaults())
    assert len(report.faults) == 4
    cleared = clear(holding, report)
    assert (cleared.kind, cleared.trouble, cleared.faults, cleared.came_back) == ("clear", "", [], [])
    assert len(cleared.before) == 4
    assert [data for data in asked(holding) if data in CLEARS] == CLEARS
    [intent] = [entry["body"] for entry in holding.journal.told if entry["kind"] == INTENT]
    assert [one["number"] for one in intent["faults"]] == [one.number for one in report.faults]
    saved = [entry["kind"] for entry in holding.journal.told]
    assert saved.index(INTENT) < saved.index("asked", saved.index(INTENT))


def test_what_is_still_wrong_comes_back_and_is_said_so(holding):
    report = holding.run(ReadFaults())
    cleared = clear(holding, report)
    assert told(cleared) == {("SPN 110 FMI 3", True)}
    assert [code(one) for one in cleared.came_back] == ["SPN 110 FMI 3"]


def test_a_fault_that_nobody_has_seen_keeps_everything(holding):
    report = holding.run(ReadFaults())
    fail(holding, "CoolantTemperature", "IntakeTemperature", "ExhaustGasTemperature")
    said = clear(holding, report)
    assert "has set since the faults were read" in said.trouble
    assert [data for data in asked(holding) if data in CLEARS] == []


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        ("no", "says no. It does not do that. Nothing of it was cleared."),
        ("denied", "says no. It denies access. Nothing of it was cleared."),
        ("busy", "says no. It is busy and cannot do it now. Nothing of it was cleared."),
    ],
)
def test_a_no_is_a_no_and_nothing_more_is_asked(holding, answer, words):
    report = holding.run(ReadFaults())
    holding.wire.craft.act({"do": "acknowledges", "answer": answer})
    said = clear(holding, report)
    assert said.trouble.startswith("Nothing was cleared. ") or words in said.trouble
    assert words in said.trouble
    assert told(said) == told(report)
    assert [data for data in asked(holding) if data in CLEARS] == CLEARS[:1]


def test_no_acknowledge_is_never_cleared(holding):
    report = holding.run(ReadFaults())
    holding.wire.craft.act({"do": "acknowledges", "answer": "other"})
    said = clear(holding, report)
    assert "answered, but not what it was asked" in said.trouble
    assert "did not confirm that it has cleared" in said.trouble
    assert told(said) == told(report)  # as it was read afterwards


def test_silence_is_never_cleared(holding):
    report = holding.run(ReadFaults())
    holding.wire.craft.act({"do": "acknowledges", "answer": "silent"})  # it goes on telling by itself
    said = clear(holding, report)
    assert "did not acknowledge within" in said.trouble
    assert told(said) == told(report)


def test_an_engine_that_is_cranked_is_not_cleared(holding):
    report = holding.run(ReadFaults())
    holding.wire.craft.act({"do": "spin", "rev": 250.0, "seconds": 60.0, "broadcast": True})
    shaft = [one.name for one in holding.hub.catalogue.signals].index("ShaftSpeed")
    holding.until(lambda now: any(one.value for one in now.values if one.signal == shaft))
    said = clear(holding, report)
    assert any("turning" in need for need in said.needs)
    assert [data for data in asked(holding) if data in CLEARS] == []


def test_without_a_technician_nothing_is_cleared(served):
    fail(served, "CoolantTemperature")
    report = served.run(ReadFaults())
    said = clear(served, report)
    assert said.needs
    assert [data for data in asked(served) if data in CLEARS] == []


def test_an_adapter_that_is_pulled_out_while_it_clears_leaves_it_not_known(holding):
    report = holding.run(ReadFaults())
    first = EXTENDED | 0x18EA00F9, CLEARS[0]
    holding.service.ask(ClearFaults(report.number, time.monotonic()))
    holding.until(lambda now: first in holding.wire.sent)
    holding.wire.gone = True
    holding.until(lambda now: now.job is None and holding.service.report is not report)
    said = holding.service.report
    assert said.trouble
    assert not said.modules[0].read
    holding.wire.gone = False
    holding.until(lambda now: holding.hub.snapshot().craft is not None)
