"""Who may fire: the table of the roles, and what the bus side makes of it, against expectations by hand."""

import pytest

from app.operators import MAY, Deed, Role

FIRES = {"dock": False, "technician": True, "": False}
"""By role; the last is nobody. Written by hand from the safety notes: outputs are for technicians."""


def test_every_role_and_nobody_is_expected_here():
    assert set(FIRES) == {role.value for role in Role} | {""}


@pytest.mark.parametrize("role", list(Role))
def test_the_table_of_the_roles_says_so(role):
    assert (Deed.FIRE in MAY[role]) is FIRES[role.value]


@pytest.mark.parametrize("role", FIRES)
@pytest.mark.parametrize("output", ["horn", "fan", "injector_1"])
def test_the_bus_side_fires_for_exactly_these(ready, role, output):
    """Everything else an output needs holds; only who is signed in differs."""
    ready.sign_in(role, operator="Kim" if role else "")
    ready.press(output)
    ready.run(0.5)
    assert bool(ready.controller.moves) is FIRES[role]
    assert bool(ready.sent) is FIRES[role]
    assert FIRES[role] or ready.missing() == ["role"]


@pytest.mark.parametrize("role", [role for role, fires in FIRES.items() if not fires])
def test_a_live_output_ends_when_somebody_who_may_not_fire_signs_in(ready, role):
    ready.live("horn")
    ready.sign_in(role, operator="Lee")
    ready.turn()
    assert not ready.controller.live()
