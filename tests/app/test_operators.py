"""Who may do what."""

import pytest

from app.errors import Refused
from app.operators import OPERATORS, Deed, Operator, Role, require

# Written by hand from the design: the dock reads and checks, the technician also clears and fires.
ALLOWED = {
    ("dock", "read"): True,
    ("dock", "check"): True,
    ("dock", "clear"): False,
    ("dock", "fire"): False,
    ("technician", "read"): True,
    ("technician", "check"): True,
    ("technician", "clear"): True,
    ("technician", "fire"): True,
}


def test_the_table_by_hand_names_every_role_and_deed():
    assert set(ALLOWED) == {(role.value, deed.value) for role in Role for deed in Deed}


@pytest.mark.parametrize(("role", "deed"), ALLOWED)
def test_a_role_may_what_the_table_says_and_nothing_else(role, deed):
    person = Operator("Somebody", Role(role))
    assert person.may(Deed(deed)) is ALLOWED[role, deed]
    if ALLOWED[role, deed]:
        require(person, Deed(deed))
    else:
        with pytest.raises(Refused, match=r"Signed in is Somebody \(dock\). Sign in as technician"):
            require(person, Deed(deed))


@pytest.mark.parametrize("deed", [Deed.CHECK, Deed.CLEAR, Deed.FIRE])
def test_nobody_signed_in_may_only_read(deed):
    require(None, Deed.READ)
    with pytest.raises(Refused, match="Signed in is nobody"):
        require(None, deed)


def test_the_people_to_try_the_tool_with_are_there():
    assert [(person.name, person.role.value) for person in OPERATORS] == [
        ("Ines", "dock"),
        ("Mara", "technician"),
    ]
