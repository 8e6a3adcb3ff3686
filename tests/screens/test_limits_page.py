"""Setting a limit of one craft by touch: the limit, its number, the reason; and the book has it."""

from keys_seen import keys, touch

LIMITS = "Check+Connection+Identity+Limits"


def test_a_limit_takes_a_key_a_number_and_a_reason_and_goes_to_the_book(stage):
    seen = stage.open(f"faults_foreign_mara:{LIMITS}")
    assert seen["name"] == "check/limits_limit"
    seen = touch(stage, "Engine speed")
    assert (seen["name"], seen["words"][1]) == ("check/limits_number", "8000 rev/min. Move it, then take it.")
    seen = touch(stage, "− 1000", "+ 100", "+ 100", "Take it")
    assert (seen["name"], seen["words"][1]) == ("check/limits_reason", "7200 rev/min: why?")
    before = len(stage.ask("book", "notes"))
    seen = touch(stage, "Engine")
    assert seen["name"] == "check/limits_limit"
    kind, craft, body = stage.ask("book", "notes")[-1]
    assert len(stage.ask("book", "notes")) == before + 1
    assert (kind, craft) == ("note", "auk 20417")
    assert body["text"].startswith(
        "Limit of this craft: Engine speed: alarm over 7200 rev/min (engine modified)"
    )
    assert "over 7200" in keys(seen)[0]
    touch(stage, "Ride")
    seen = stage.ask("measure")
    assert any("limit 7200" in text for text in seen["words"]), (seen["name"], seen["words"])
    assert "limit from this craft" in seen["words"]


def test_a_way_back_sets_nothing_and_a_touch_gives_it_back_to_the_family(stage):
    stage.open(f"faults_foreign_mara:{LIMITS}")
    before = len(stage.ask("book", "notes"))
    seen = touch(stage, "Intake air", "+ 10", "Back")
    assert seen["name"] == "check/limits_limit"
    assert len(stage.ask("book", "notes")) == before
    seen = touch(stage, "Intake air", "+ 10", "Take it", "Other")
    assert any("over 70" in text for text in keys(seen))
    seen = touch(stage, "Intake air", "As the")
    assert seen["name"] == "check/limits_limit"
    assert any("over 60" in text for text in keys(seen))
    assert len(stage.ask("book", "notes")) == before + 2


def test_who_is_no_technician_reads_them_and_sets_none(stage):
    seen = stage.open(f"faults_foreign:{LIMITS}")
    assert "technician" in seen["words"][1]
    assert touch(stage, "Engine speed")["name"] == "check/limits_limit"
    assert touch(stage, "Back")["name"] == "check/identity"
