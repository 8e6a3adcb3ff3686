"""The form of family.toml: which sections and keys there are, and what each must be.

The classes below are the whole description; bus/family_file.py checks a file against them, and
bus/family_check.py what the keys have to do with each other and with the DBC file.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

import msgspec
from msgspec import Meta

Text = Annotated[str, Meta(min_length=1, description="a text in quotes")]
Texts = Annotated[tuple[Text, ...], Meta(description="a list of texts in quotes")]
Flag = Annotated[bool, Meta(description="true or false")]
Number = Annotated[float | None, Meta(description="a number")]
Seconds = Annotated[Annotated[float, Meta(gt=0)] | None, Meta(description="a number of seconds above 0")]
Rates = Annotated[
    Annotated[tuple[Annotated[int, Meta(ge=1_000, le=1_000_000)], ...], Meta(min_length=1)],
    Meta(description="a list of whole numbers from 1000 to 1000000 (bit/s)"),
]


class About(msgspec.Struct, frozen=True):
    """The keys above the first section.

    Attributes:
        schema: of this form.
        name: the folder's name.
        title: for the glass.
        invented: True for a family that no maker builds.
    """

    schema: Annotated[Literal[1], Meta(description="1")]
    name: Annotated[
        str,
        Meta(pattern="^[a-z][a-z0-9_-]*$", description="a text of small letters, digits, - and _"),
    ]
    title: Text
    invented: Flag


class Bus(msgspec.Struct, frozen=True):
    """[bus].

    Attributes:
        bitrates: bit/s at which this family is spoken.
        identifiers: "11-bit": a message is known by its identifier; "pgn": by the parameter group in a 29-bit
            one, whoever sends it and with whatever priority.
    """

    bitrates: Rates
    identifiers: Annotated[Literal["11-bit", "pgn"], Meta(description='"11-bit" or "pgn"')]


class Engine(msgspec.Struct, frozen=True):
    """[engine].

    Attributes:
        idle_below: rev/min; above it the craft counts as under way. The default is our own: over any idle
            speed, under any speed that moves a craft.
        strokes: of a working cycle.
        injectors: how many.
        injector_flow_cm3_min: static flow of one at its usual pressure.
        injector_dead_ms: part of a pulse in which nothing flows, at charging voltage.
        injector_pulse: signal of the pulse width in ms, one pulse a working cycle.
        fuel_rail: signal of the rail pressure.
        rail_pressure: "gauge" = counted from the air outside, "absolute" = from vacuum.
        rated_speed: of full power, rev/min; hours by engine speed are weighed by it. 0 = not known.
        dry_run_s: it may run without cooling water for so long; 0 = not said: a generic default is counted.
    """

    idle_below: Annotated[float, Meta(gt=0, description="a number of rev/min above 0")] = 2000.0
    strokes: Annotated[Literal[2, 4], Meta(description="2 or 4")] = 4
    injectors: Annotated[int, Meta(ge=0, le=16, description="a whole number from 0 to 16")] = 0
    injector_flow_cm3_min: Annotated[float, Meta(ge=0, description="a number of cm³/min")] = 0.0
    injector_dead_ms: Annotated[float, Meta(ge=0, le=5, description="a number of ms from 0 to 5")] = 0.0
    injector_pulse: Annotated[str, Meta(min_length=1, description="a text in quotes")] = ""
    fuel_rail: Annotated[str, Meta(min_length=1, description="a text in quotes")] = ""
    rail_pressure: Annotated[Literal["gauge", "absolute"], Meta(description='"gauge" or "absolute"')] = (
        "gauge"
    )
    rated_speed: Annotated[float, Meta(ge=0, description="a number of rev/min")] = 0.0
    dry_run_s: Annotated[float, Meta(ge=1, le=60, description="a number of seconds from 1 to 60")] = 0.0


class Decode(msgspec.Struct, frozen=True):
    """[decode].

    Attributes:
        sentinels: "all_ones": of 8 bits and more, all ones = not available and one less = error (signed:
            7F…F and 7F…E); "none": every raw number is a value. Texts "Not available" and "Error" (VAL_) hold
            either way, and are the only reserved codes of shorter signals.
        no_sentinel: signals that use their whole raw range.
        short_frames: True if senders may leave out bytes at the end.
        fast_packets: messages of a "pgn" family that come as fast packets.
    """

    sentinels: Annotated[
        Literal["all_ones", "j1939", "none"], Meta(description='"all_ones", "j1939" or "none"')
    ] = "all_ones"
    no_sentinel: Texts = ()
    short_frames: Flag = False
    fast_packets: Texts = ()


class Recognise(msgspec.Struct, frozen=True):
    """[recognise].

    Attributes:
        messages: what names the craft when heard at the right length.
        need: how many different ones of them; left out = all.
        begins: message to the bytes it must begin with, in hexadecimal: what a make says of itself.
        over: families that this one takes the place of where both fit. Only a family that hears more than the
            others may say so, such as a make over the open standard that it speaks, or whose instruments
            share its bus.
    """

    messages: Annotated[tuple[Text, ...], Meta(min_length=1, description="a list of message names")]
    need: Annotated[Annotated[int, Meta(ge=1)] | None, Meta(description="a whole number from 1")] = None
    begins: Annotated[dict[str, str], Meta(description="messages, each with bytes in hexadecimal")] = {}
    over: Texts = ()


class Ride(msgspec.Struct, frozen=True):
    """[ride]: the big values of the test run.

    Attributes:
        arc: the one on the arc.
        tiles: two to five beside it.
    """

    arc: Text
    tiles: Annotated[
        tuple[Text, ...], Meta(min_length=2, max_length=5, description="a list of 2 to 5 signals")
    ]


class Groups(msgspec.Struct, frozen=True):
    """[groups].

    Attributes:
        order: the pages of values, in their order.
    """

    order: Annotated[tuple[Text, ...], Meta(min_length=1, description="a list of page names")]


class Shown(msgspec.Struct, frozen=True):
    """[signals.NAME]: how a signal stands on the glass. One without this section is decoded, not shown.

    Attributes:
        label: words for it.
        group: its page.
        decimals: digits after the point.
        scale: ends of a drawn scale.
        watch_above, watch_below, alarm_above, alarm_below: limits in the DBC's unit.
        engine_above: rev/min above which the limits hold; left out = always.
        generic: True if the limits are generic defaults, not this family's own.
        source: where the limits come from.
        hidden: True for signals that are for the tool alone.
        tells_apart: True for an instance number: it says which of several engines, batteries or tanks of one
            sender the other signals of its message belong to.
        max_age: seconds after which a value is stale; left out = three periods, never under 0.5 s.
    """

    label: Annotated[str, Meta(min_length=1, description="a text in quotes")] = ""
    group: Annotated[str, Meta(min_length=1, description="a text in quotes")] = ""
    decimals: Annotated[int, Meta(ge=0, le=6, description="a whole number from 0 to 6")] = 0
    scale: Annotated[tuple[float, float] | None, Meta(description="a list of two numbers")] = None
    watch_above: Number = None
    watch_below: Number = None
    alarm_above: Number = None
    alarm_below: Number = None
    engine_above: Number = None
    generic: Flag = False
    source: Annotated[str, Meta(min_length=1, description="a text in quotes")] = ""
    hidden: Flag = False
    tells_apart: Flag = False
    max_age: Seconds = None


class FamilyFile(msgspec.Struct, frozen=True):
    """All of it.

    Attributes:
        roles: role to signal.
        signals: signal to how it is shown, in the order of the file.
        uds: what bus/family_uds.py is to check; None if there is nothing to ask a controller.
        j1939: the same for bus/group_form.py.
    """

    about: About
    bus: Bus
    engine: Engine
    decode: Decode
    recognise: Recognise
    ride: Ride
    groups: Groups
    roles: dict[str, str]
    signals: dict[str, Shown]
    uds: dict[str, Any] | None = None
    j1939: dict[str, Any] | None = None
