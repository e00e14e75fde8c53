"""What is done to staff accounts."""

from collections.abc import Callable
from typing import Any

import pytest
from django.contrib.auth.tokens import default_token_generator
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from sidelong.clinic.accounts.actions import (
    change_roles,
    choose_password,
    create_staff,
    end_access,
    give_access_back,
    invite_staff,
    remove_second_factors,
)
from sidelong.clinic.accounts.models import User
from sidelong.clinic.accounts.people import Operator
from sidelong.clinic.accounts.queries import list_staff, trail_about
from sidelong.clinic.accounts.roles import Role
from sidelong.clinic.audit.acts import act
from sidelong.clinic.audit.queries import links_about
from sidelong.problems import Refused

PASSWORD = "seven quiet harbour lamps"


def test_a_new_account_cannot_sign_in_before_its_invitation(coach: User) -> None:
    assert not coach.has_usable_password()
    assert coach.role_set == {Role.COACH}


def test_a_user_name_is_kept_in_lower_case_and_taken_once(coach: User) -> None:
    made = create_staff(username=" Ada ", display_name="Ada", roles=[Role.COACH], by=Operator())
    assert made.username == "ada"
    with pytest.raises(Refused, match="taken"):
        create_staff(username="ADA", display_name="B", roles=[Role.COACH], by=Operator())


def test_the_database_refuses_a_user_name_in_capitals(db: None) -> None:
    with pytest.raises(IntegrityError), transaction.atomic(), act("x", by=Operator(), subject="x"):
        User(username="Ada", display_name="A", roles=["coach"]).save()


@pytest.mark.django_db
@pytest.mark.parametrize(("username", "name"), [("", "A"), ("a", " ")])
def test_all_faults_of_a_new_account_come_at_once(username: str, name: str) -> None:
    with pytest.raises(Refused) as refusal:
        create_staff(username=username, display_name=name, roles=[], by=Operator())
    assert len(refusal.value.problems) == 2


def test_an_invitation_ends_with_the_choice_of_a_password(coach: User) -> None:
    _number, token = invite_staff(user=coach, by=Operator()).split("/")
    assert default_token_generator.check_token(coach, token)
    choose_password(user=coach, password=PASSWORD, by=coach)
    coach.refresh_from_db()
    assert not default_token_generator.check_token(coach, token)
    assert coach.check_password(PASSWORD)


def test_nobody_is_invited_whose_access_ended(coach: User, administrator: User) -> None:
    end_access(user=coach, by=administrator)
    coach.refresh_from_db()
    with pytest.raises(Refused, match="ended"):
        invite_staff(user=coach, by=administrator)


@pytest.mark.parametrize("password", ["short", "fourteen signs", "harbour coach ada"])
def test_a_weak_password_is_refused(password: str, make_staff: Callable[..., Any]) -> None:
    user = make_staff(Role.COACH, username="harbour coach ada")
    with pytest.raises(ValidationError):
        choose_password(user=user, password=password, by=user)


def test_a_password_may_be_long(coach: User) -> None:
    choose_password(user=coach, password="lamp " * 40, by=coach)
    assert coach.check_password("lamp " * 40)


def test_an_administrator_cannot_choose_for_others(coach: User, administrator: User) -> None:
    with pytest.raises(Refused, match="another person"):
        choose_password(user=coach, password=PASSWORD, by=administrator)


def test_roles_change_and_the_trail_keeps_the_old_ones(coach: User, administrator: User) -> None:
    change_roles(user=coach, roles=[Role.LEAD, Role.CLINICIAN], by=administrator)
    coach.refresh_from_db()
    last = list(links_about(coach.audit_key))[-1]
    assert coach.role_set == {Role.LEAD, Role.CLINICIAN}
    assert last.detail == '{"after":["clinician","lead"],"before":["coach"]}'


def test_somebody_is_always_left_to_manage_staff(administrator: User) -> None:
    with pytest.raises(Refused, match="nobody would be left"):
        end_access(user=administrator, by=administrator)
    with pytest.raises(Refused, match="nobody would be left"):
        change_roles(user=administrator, roles=[Role.COACH], by=administrator)
    administrator.refresh_from_db()
    assert administrator.is_active


def test_a_role_is_always_left(coach: User, administrator: User) -> None:
    with pytest.raises(Refused, match="none was given"):
        change_roles(user=coach, roles=[], by=administrator)


def test_access_ends_and_comes_back(coach: User, administrator: User) -> None:
    end_access(user=coach, by=administrator)
    coach.refresh_from_db()
    assert coach.permissions == frozenset()
    give_access_back(user=coach, by=administrator)
    coach.refresh_from_db()
    assert coach.permissions


def test_who_loses_second_factors_loses_the_password_too(
    coach: User, administrator: User, give_second_factor: Callable[[Any], None]
) -> None:
    choose_password(user=coach, password=PASSWORD, by=coach)
    give_second_factor(coach)
    remove_second_factors(user=coach, by=administrator)
    coach.refresh_from_db()
    last = list(links_about(coach.audit_key))[-1]
    assert not coach.has_usable_password()
    assert not coach.authenticator_set.exists()
    assert last.detail == '{"kinds":["totp"]}'


def test_the_hash_of_a_password_is_renewed_as_a_recorded_act(coach: User, settings: Any) -> None:
    choose_password(user=coach, password=PASSWORD, by=coach)
    settings.PASSWORD_HASHERS = [
        "django.contrib.auth.hashers.ScryptPasswordHasher",
        *settings.PASSWORD_HASHERS,
    ]
    assert coach.check_password(PASSWORD)
    coach.refresh_from_db()
    assert coach.password.startswith("scrypt$")
    assert list(links_about(coach.audit_key))[-1].verb == "password hash renewed"


def test_staff_and_trail_are_listed_for_those_who_may(coach: User, administrator: User) -> None:
    assert list_staff(seen_by=administrator) == (administrator, coach)
    trail = trail_about(coach.audit_key, seen_by=administrator)
    assert [link.verb for link in trail] == ["staff added"]


def test_a_user_is_found_in_whatever_case_was_typed(coach: User) -> None:
    assert User.objects.get_by_natural_key("COACH") == coach


def test_the_trail_names_staff_by_number(coach: User) -> None:
    assert coach.audit_key == f"staff:{coach.pk}"
    assert str(coach) == coach.get_full_name() == "Coach"
