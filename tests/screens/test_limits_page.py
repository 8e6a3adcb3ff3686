"""Setting a limit of one craft by touch: the limit, the pad, the reason; and the book has it."""

from keys_seen import keys, touch

LIMITS = "Check+Connection+Identity+Limits"


def test_a_limit_takes_a_key_a_number_and_a_reason_and_goes_to_the_book(stage):
    seen = stage.open(f"faults_foreign_mara:{LIMITS}")
    assert seen["name"] == "check/limits_limit"
    seen = touch(stage, "Engine speed")
    assert seen["name"] == "check/limit_pad"
    seen = touch(stage, "7", "5", "0", "0", "Take it")
    assert (seen["name"], seen["words"][1]) == ("check/limits_reason", "7500 rev/min: why?")
    before = len(stage.ask("book", "notes"))
    seen = touch(stage, "Engine")
    assert seen["name"] == "check/limits_limit"
    kind, craft, body = stage.ask("book", "notes")[-1]
    assert len(stage.ask("book", "notes")) == before + 1
    assert (kind, craft) == ("note", "auk 20417")
    assert body["text"].startswith(
        "Limit of this craft: Engine speed: alarm over 7500 rev/min (engine modified)"
    )
    assert "over 7500" in keys(seen)[0]
    touch(stage, "Ride")
    seen = stage.ask("measure")
    assert any("limit 7500" in text for text in seen["words"]), (seen["name"], seen["words"])
    assert "limit from this craft" in seen["words"]


def test_cancel_and_a_number_outside_the_scale_set_nothing(stage):
    stage.open(f"faults_foreign_mara:{LIMITS}")
    seen = touch(stage, "Intake air", "9", "9", "9", "Take it")
    assert seen["name"] == "check/limit_pad"
    assert touch(stage, "Cancel")["name"] == "check/limits_limit"


def test_who_is_no_technician_reads_them_and_sets_none(stage):
    seen = stage.open(f"faults_foreign:{LIMITS}")
    assert "technician" in seen["words"][1]
    assert touch(stage, "Engine speed")["name"] == "check/limits_limit"
    assert touch(stage, "Back")["name"] == "check/identity"
