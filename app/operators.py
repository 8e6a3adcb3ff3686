"""Who works with the tool, and what each may do."""

from __future__ import annotations

import enum

import msgspec

from app.errors import Refused


class Role(enum.StrEnum):
    """What a person is here for."""

    DOCK = "dock"
    TECHNICIAN = "technician"


class Deed(enum.StrEnum):
    """What can be done with a craft."""

    READ = "read"
    CHECK = "check"
    CLEAR = "clear"
    """Clear stored faults."""
    FIRE = "fire"
    """Fire an output."""


MAY: dict[Role, frozenset[Deed]] = {
    Role.DOCK: frozenset({Deed.READ, Deed.CHECK}),
    Role.TECHNICIAN: frozenset(Deed),
}

_WORDS = {
    Deed.READ: "Reading",
    Deed.CHECK: "Checking",
    Deed.CLEAR: "Clearing faults",
    Deed.FIRE: "Firing an output",
}


class Operator(msgspec.Struct, frozen=True):
    """A person.

    Attributes:
        name: as it is shown, and as it stands in the book.
        role: see Role.
    """

    name: str
    role: Role

    def may(self, deed: Deed) -> bool:
        """Whether the role allows it."""
        return deed in MAY[self.role]


OPERATORS = (Operator("Ines", Role.DOCK), Operator("Mara", Role.TECHNICIAN))
"""Invented people, for trying the tool; nobody has to prove who they are yet."""


def require(operator: Operator | None, deed: Deed) -> None:
    """Refuse what this person may not do.

    Args:
        operator: who is signed in, None = nobody. Reading needs nobody.
        deed: what is to be done.

    Raises:
        Refused: with who is signed in and who may do it.
    """
    if operator.may(deed) if operator is not None else deed is Deed.READ:
        return
    who = "nobody" if operator is None else f"{operator.name} ({operator.role.value})"
    roles = " or ".join(role.value for role in Role if deed in MAY[role])
    raise Refused(_WORDS[deed], (f"Signed in is {who}. Sign in as {roles}.",))
