"""The words on the Ride lane while there is no craft, and over the last values."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.link_words import RATES, banner, link_words, shows_values
from app.messages import LinkState

STOPPED = "The part that talks to the craft has stopped. It is being started again."


@pytest.mark.parametrize("state", LinkState)
def test_every_state_says_what_is_seen_and_what_it_means(make, state):
    words = link_words(make.moment(state=state))
    assert words.name == state.value
    assert words.title
    assert words.meaning.endswith((".", "!", "?"))


@pytest.mark.parametrize("state", [LinkState.NO_ADAPTER, LinkState.NEED_RATE, LinkState.SILENT])
def test_where_a_person_must_act_it_is_said_how(make, state):
    assert link_words(make.moment(state=state)).todo


def test_a_silent_bus_asks_for_the_key(make):
    assert link_words(make.moment(state=LinkState.SILENT)).title == "Turn the key on"


def test_the_sentence_of_the_layer_that_knows_is_repeated(make):
    reason = "This user may not open /dev/ttyACM0. Add the user to the group dialout."
    words = link_words(make.moment(state=LinkState.NO_ADAPTER, reason=reason))
    assert words.meaning == reason
    words = link_words(make.moment(state=LinkState.NEED_RATE, reason="It cannot listen only"))
    assert words.meaning.startswith("It cannot listen only. ")


def test_an_unknown_craft_is_counted_and_said_to_be_recorded_only_if_it_is(make):
    state = LinkState.UNKNOWN_CRAFT
    kept = link_words(make.moment(state=state, frames=48, recording=make.recording())).meaning
    assert "48 frames heard; all are recorded" in kept
    for recording in (None, make.recording(trouble="The disk is full."), make.recording(file="")):
        lost = link_words(make.moment(state=state, frames=1, recording=recording)).meaning
        assert "1 frame heard; they are not being recorded" in lost


def test_where_several_families_fit_none_is_named_and_it_is_said_which(make):
    reason = "Dunlin and Ruff fit what is heard. Only Dunlin knows Fast."
    words = link_words(make.moment(state=LinkState.UNKNOWN_CRAFT, reason=reason, frames=48))
    assert words.title == "Which craft is it?"
    assert words.meaning.startswith(f"{reason} So nothing is named. 48 frames heard;")


def test_only_the_state_that_needs_a_rate_asks_for_it(make):
    asking = [state for state in LinkState if link_words(make.moment(state=state)).offer == "rates"]
    assert asking == [LinkState.NEED_RATE]
    # CiA 301 (CANopen), table of bit rates: 125, 250, 500 and 1000 kbit/s are among its eight.
    assert RATES == (125_000, 250_000, 500_000, 1_000_000)


def test_a_rate_that_brings_nothing_can_be_taken_back(make):
    for state in (LinkState.SILENT, LinkState.UNKNOWN_CRAFT):
        assert link_words(make.moment(state=state, bitrate=250_000)).offer == "again"
        assert link_words(make.moment(state=state, bitrate=None)).offer == ""


def test_the_facts_name_adapter_rate_and_frames(make):
    facts = link_words(make.moment(state=LinkState.SILENT, bitrate=500_000, frames=0, bad_frames=3)).facts
    assert facts == "slcan on /dev/ttyACM0 · 500 kbit/s · 0 frames · 3 bad"


def test_a_bus_process_that_does_not_answer_is_said_to_be_started_again(make):
    words = link_words(make.moment(connected=False, state=LinkState.SILENT, age=3.0))
    assert (words.name, words.meaning) == ("no_bus", STOPPED)
    assert link_words(make.moment(make.nothing())).meaning == STOPPED


def test_at_the_start_silence_is_no_fault_yet(make):
    assert link_words(make.moment(make.nothing(), waited=1.0)).name == "starting"
    assert link_words(make.moment(make.nothing(connected=True), waited=1.0)).name == "starting"


def test_the_last_values_stand_under_a_line_that_says_so(make):
    assert banner(make.moment(connected=False, age=3.0)) == STOPPED
    assert banner(make.moment(state=LinkState.LOST)).startswith("These are the last values.")
    assert banner(make.moment()) == ""


@given(state=st.sampled_from(LinkState), connected=st.booleans(), age=st.floats(0, 2))
def test_values_without_a_line_over_them_are_live(make, state, connected, age):
    moment = make.moment(state=state, connected=connected, age=age)
    if shows_values(moment) and not banner(moment):
        assert moment.live
        assert state is LinkState.FOUND
    assert shows_values(moment) == (state in (LinkState.FOUND, LinkState.LOST))
