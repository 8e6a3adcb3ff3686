"""What the parts of a family must have to do with each other."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

from bus.decode import enumerated, key_of
from bus.frame import EXTENDED
from bus.roles import ROLES, SPEED_AGE_S, SPEEDS

if TYPE_CHECKING:
    from pathlib import Path

    from bus.dbc import MessageLayout, SignalLayout
    from bus.family_file import Findings
    from bus.family_form import FamilyFile, Shown

SPEED_PERIOD_S = 0.8 * SPEED_AGE_S
"""Longest period of the engine speed where there are outputs (our own share): a slower one is old before the
next has come, and the engine is never known to stand still."""

LIMITS = ("alarm_above", "alarm_below", "watch_above", "watch_below")


def check_family(
    family: FamilyFile, messages: tuple[MessageLayout, ...], folder: Path, findings: Findings
) -> None:
    """Check a family whose files could be read.

    Args:
        family: its family.toml.
        messages: of its DBC file.
        folder: it stands in.
        findings: takes what is wrong.
    """
    signals = {signal.name: signal for message in messages for signal in message.signals}
    names = {message.name for message in messages}
    if family.about.name != folder.name:
        what = f'the name is "{family.about.name}" and the folder is called {folder.name}'
        findings.add(("name",), what, "Call both the same.")
    _identifiers(family, messages, findings)
    _decode(family, messages, findings)
    _known(findings, ("recognise", "messages"), family.recognise.messages, names, "message")
    if family.recognise.need is not None and family.recognise.need > len(family.recognise.messages):
        what = (
            f"need is {family.recognise.need}, and only {len(family.recognise.messages)} messages are named"
        )
        findings.add(("recognise", "need"), what, "Need no more than there are.")
    _begins(family, messages, findings)
    _roles(family, signals, findings)
    _periods(family, messages, findings)
    _for_outputs(family, messages, findings)
    _known(findings, ("ride", "arc"), (family.ride.arc,), set(signals), "signal")
    _known(findings, ("ride", "tiles"), family.ride.tiles, set(signals), "signal")
    _engine(family, signals, findings)
    _ride(family, signals, findings)
    for group in family.groups.order:
        if all(shown.group != group or shown.hidden for shown in family.signals.values()):
            what = f'no signal stands on the page "{group}"'
            findings.add(("groups", "order"), what, "Take it out, or give a signal this group.", group)
    for name, shown in family.signals.items():
        _shown(family, name, shown, signals.get(name), findings)


def _known(
    findings: Findings, at: tuple[str, ...], items: tuple[str, ...], known: set[str], kind: str
) -> None:
    """Check a list of names of the DBC: each known, none twice."""
    for number, item in enumerate(items):
        if item not in known:
            what = f"the DBC has no {kind} {item}"
            findings.add(at, what, "Mend the name here or in signals.dbc.", item)
        elif item in items[:number]:
            findings.add(at, f"{item} is named twice", "Name it once.", item)


def _identifiers(family: FamilyFile, messages: tuple[MessageLayout, ...], findings: Findings) -> None:
    by_group = family.bus.identifiers == "pgn"
    at = ("bus", "identifiers")
    groups: dict[int, str] = {}
    for message in messages:
        if bool(message.ident & EXTENDED) is not by_group:
            bits = 29 if message.ident & EXTENDED else 11
            what = f"{message.name} in signals.dbc has an identifier of {bits} bits"
            findings.add(at, what, 'A "pgn" family has only 29-bit, an "11-bit" family only 11-bit ones.')
        first = groups.setdefault(key_of(message.ident), message.name)
        if by_group and first != message.name:
            what = f"{message.name} and {first} in signals.dbc have the same parameter group"
            findings.add(at, what, "Priority and sender do not tell messages apart; keep one.")


def _decode(family: FamilyFile, messages: tuple[MessageLayout, ...], findings: Findings) -> None:
    names = {message.name for message in messages}
    signals = {signal.name for message in messages for signal in message.signals}
    _known(findings, ("decode", "no_sentinel"), family.decode.no_sentinel, signals, "signal")
    _known(findings, ("decode", "fast_packets"), family.decode.fast_packets, names, "message")
    fast = family.decode.fast_packets
    if fast and family.bus.identifiers != "pgn":
        findings.add(("decode", "fast_packets"), "fast packets in an 11-bit family", "Take the list out.")
    for message in messages:
        if message.length > (223 if message.name in fast else 8):
            what = f"{message.name} in signals.dbc has {message.length} bytes"
            mend = "One frame carries 8; a fast packet, named in fast_packets, 223."
            findings.add(("decode", "fast_packets"), what, mend)


def _begins(family: FamilyFile, messages: tuple[MessageLayout, ...], findings: Findings) -> None:
    """What a message must begin with: bytes, no more than it has, of a message that names the craft."""
    lengths = {message.name: message.length for message in messages}
    for name, text in family.recognise.begins.items():
        at = ("recognise", "begins")
        if name not in family.recognise.messages or name in family.decode.fast_packets:
            what = f"{name} in begins is none of the single frames that name the craft"
            findings.add(at, what, "Name it under messages, or take it out.")
            continue
        try:
            size = len(bytes.fromhex(text))
        except ValueError:
            size = 0
        if not 0 < size <= lengths.get(name, 8):
            what = f'{name} cannot begin with "{text}"'
            findings.add(at, what, 'Write bytes in hexadecimal, such as "54 45", no more than it has.')
    if family.about.name in family.recognise.over:
        findings.add(("recognise", "over"), "a family cannot take its own place", "Take its name out.")


def _roles(family: FamilyFile, signals: dict[str, SignalLayout], findings: Findings) -> None:
    for name, signal_name in family.roles.items():
        at = ("roles", name)
        role = ROLES.get(name)
        if role is None:
            findings.add(at, f"there is no role {name}", f"Known roles: {', '.join(ROLES)}.")
        signal = signals.get(signal_name)
        if signal is None:
            findings.add(at, f"the DBC has no signal {signal_name}", "Mend the name here or in signals.dbc.")
        elif role is not None and role.text and not enumerated(signal):
            what = f"{signal_name} as {name} has no texts"
            findings.add(at, what, "Give it a VAL_ line in signals.dbc.")
        elif role is not None and not role.text and enumerated(signal):
            findings.add(at, f"{signal_name} as {name} is a text", "This role needs a number.")
        elif role is not None and (lacks := set(role.words) - set(signal.texts.values())):
            what = f'{signal_name} as {name} never says "{min(lacks)}"'
            said = " and ".join(f'"{word}"' for word in role.words)
            findings.add(at, what, f"Its VAL_ line must say {said}: the tool compares them letter by letter.")


def _for_outputs(family: FamilyFile, messages: tuple[MessageLayout, ...], findings: Findings) -> None:
    """What the interlock cannot do without; an output that could never fire is better not offered."""
    if family.uds is None or not family.uds.get("outputs"):
        return
    for name, role in ROLES.items():
        if role.outputs and name not in family.roles:
            what = f"there are outputs, and no role {name} ({role.what})"
            findings.add(("roles",), what, "Name its signal in [roles], or take [[uds.outputs]] out.")
    cycles = {signal.name: message.cycle for message in messages for signal in message.signals}
    for name in SPEEDS:
        cycle = cycles.get(family.roles.get(name, ""))
        if cycle is not None and cycle > SPEED_PERIOD_S:
            what = (
                f"{name} comes every {cycle * 1000:.0f} ms, and counts for {SPEED_AGE_S * 1000:.0f} ms only"
            )
            mend = f"With outputs it must come every {SPEED_PERIOD_S * 1000:.0f} ms or more often."
            findings.add(("roles", name), what, mend)


def _periods(family: FamilyFile, messages: tuple[MessageLayout, ...], findings: Findings) -> None:
    """Without a period nobody knows when a value is old."""
    for role, name in family.roles.items():
        for message in messages:
            if message.cycle is None and any(signal.name == name for signal in message.signals):
                what = f"{message.name} in signals.dbc has no period, and carries {name} as {role}"
                findings.add(("roles", role), what, 'Add BA_ "GenMsgCycleTime" with its milliseconds there.')


def _engine(family: FamilyFile, signals: dict[str, SignalLayout], findings: Findings) -> None:
    """The signals that others are worked out of must be there and be numbers."""
    for key in ("injector_pulse", "fuel_rail"):
        name = getattr(family.engine, key)
        if name and name not in signals:
            what = f"the DBC has no signal {name}"
            findings.add(("engine", key), what, "Mend the name here or in signals.dbc.")
        elif name and enumerated(signals[name]):
            findings.add(("engine", key), f"{name} as {key} is a text", "Name a signal that is a number.")


def _ride(family: FamilyFile, signals: dict[str, SignalLayout], findings: Findings) -> None:
    for name in (family.ride.arc, *family.ride.tiles):
        key = "arc" if name == family.ride.arc else "tiles"
        shown = family.signals.get(name)
        if name in signals and (shown is None or shown.hidden):
            findings.add(("ride", key), f"{name} is not shown", f"Describe it in [signals.{name}].", name)
    arc = family.signals.get(family.ride.arc)
    if arc is not None and arc.scale is None:
        what = f"{family.ride.arc} stands on the arc and has no scale"
        findings.add(("signals", family.ride.arc), what, "Add scale = [low, high].")
    if family.ride.arc in family.ride.tiles:
        what = f"{family.ride.arc} is both arc and tile"
        findings.add(("ride", "tiles"), what, "Show it once.", family.ride.arc)


def _shown(
    family: FamilyFile, name: str, shown: Shown, signal: SignalLayout | None, findings: Findings
) -> None:
    at = ("signals", name)
    if signal is None:
        findings.add(at, f"the DBC has no signal {name}", "Mend the name here or in signals.dbc.")
        return
    if not shown.hidden:
        if not shown.label:
            findings.add(at, f"{name} has no label", 'Add label = "…", or hidden = true.')
        if not shown.group:
            findings.add(at, f"{name} has no group", 'Add group = "…", one of [groups] order.')
        elif shown.group not in family.groups.order:
            what = f'the group "{shown.group}" is not in [groups] order'
            findings.add(
                (*at, "group"), what, f"Use one of: {', '.join(family.groups.order)}; or add it there."
            )
    if shown.scale is not None and shown.scale[0] >= shown.scale[1]:
        findings.add((*at, "scale"), f"the scale of {name} is upside down", "Write [low, high].")
    _limits(family, name, shown, signal, findings)


def _limits(family: FamilyFile, name: str, shown: Shown, signal: SignalLayout, findings: Findings) -> None:
    at = ("signals", name)
    limits = {key: value for key in LIMITS if (value := getattr(shown, key)) is not None}
    if not limits:
        if shown.engine_above is not None or shown.generic:
            findings.add(at, f"{name} has no limit that engine_above or generic could mean", "Add one.")
        return
    if enumerated(signal):
        findings.add(at, f"{name} has limits and its values are texts", "Take the limits out.")
        return
    if not shown.source:
        findings.add(at, f"the limits of {name} have no source", "Say in source where they come from.")
    if shown.engine_above is not None and "engine_speed" not in family.roles:
        what = f"the limits of {name} hold above an engine speed that this family does not have"
        findings.add(
            (*at, "engine_above"), what, "Name the signal under [roles] engine_speed, or take it out."
        )
    # From low to high the limits must stand in this order.
    order = [key for key in ("alarm_below", "watch_below", "watch_above", "alarm_above") if key in limits]
    for lower, upper in itertools.pairwise(order):
        if limits[lower] >= limits[upper]:
            what = f"{lower} = {limits[lower]:g} of {name} is not below {upper} = {limits[upper]:g}"
            findings.add(
                (*at, lower), what, "Limits rise: alarm_below, watch_below, watch_above, alarm_above."
            )
    ends = sorted((signal.value(signal.low), signal.value(signal.high)))
    for key, value in limits.items():
        if not ends[0] <= value <= ends[1]:
            what = f"{key} = {value:g} of {name} lies outside what its DBC allows, {ends[0]:g} to {ends[1]:g}"
            findings.add((*at, key), what, "Such a limit never comes; mend it, or the [minimum|maximum].")
