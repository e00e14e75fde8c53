"""The table of roles and permissions."""

from pathlib import Path

import pytest

from sidelong.clinic.accounts.people import NotPermitted, Operator, Visitor, demand
from sidelong.clinic.accounts.roles import ALLOWED, Permission, Role, matrix, permissions_of

GOLDEN = Path(__file__).resolve().parents[2] / "golden" / "clinic" / "permissions.md"


def test_the_table_is_the_one_that_was_reviewed() -> None:
    """A change of who may do what has to show in the golden file as well."""
    assert matrix() == GOLDEN.read_text(encoding="utf-8")


def test_every_role_has_a_row_of_its_own() -> None:
    assert set(ALLOWED) == set(Role)


def test_nobody_without_a_role_may_do_anything() -> None:
    assert permissions_of([]) == frozenset()


def test_two_roles_allow_what_either_allows() -> None:
    both = permissions_of([Role.ANALYST, Role.ADMINISTRATOR])
    assert both == ALLOWED[Role.ANALYST] | ALLOWED[Role.ADMINISTRATOR]


@pytest.mark.parametrize("role", [Role.ANALYST, Role.ADMINISTRATOR])
def test_names_stay_hidden_from_those_who_work_with_codes_or_machines(role: Role) -> None:
    about_names = {Permission.SEE_NAMES, Permission.FIND_BY_NAME, Permission.CHANGE_NAMES}
    assert ALLOWED[role].isdisjoint(about_names)


def test_every_permission_is_held_by_somebody() -> None:
    assert permissions_of(Role) == set(Permission)


def test_the_operator_may_manage_staff_and_sees_no_names() -> None:
    demand(Permission.MANAGE_STAFF, of=Operator())
    with pytest.raises(NotPermitted, match="see names"):
        demand(Permission.SEE_NAMES, of=Operator())


@pytest.mark.parametrize("permission", Permission)
def test_a_visitor_may_do_nothing(permission: Permission) -> None:
    with pytest.raises(NotPermitted):
        demand(permission, of=Visitor())
