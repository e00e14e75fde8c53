"""The locked door: no write without its row in the trail, and no row without its write."""

import threading
from typing import Any

import pytest
from django.apps import apps
from django.conf import settings
from django.db import DatabaseError, connection, models, transaction

from sidelong.clinic.accounts.people import Operator
from sidelong.clinic.audit import acts
from sidelong.clinic.audit.acts import act
from sidelong.clinic.audit.locks import LockedModel, OutsideActError
from sidelong.clinic.audit.models import AuditHead, AuditRow
from sidelong.clinic.audit.queries import check_chain, links_about
from sidelong.clinic.trainees.models import Trainee

OURS = [
    model
    for config in apps.get_app_configs()
    if config.name.startswith("sidelong.")
    for model in config.get_models()
]


def is_ours(model: type[models.Model]) -> str:
    return model.__name__


@pytest.mark.parametrize("model", OURS, ids=is_ours)
def test_every_table_of_ours_is_behind_the_door(model: type[models.Model]) -> None:
    assert issubclass(model, LockedModel)


@pytest.mark.any_database
@pytest.mark.django_db
@pytest.mark.parametrize("model", OURS, ids=is_ours)
@pytest.mark.parametrize(
    "write",
    [
        lambda model: model().save(),
        lambda model: model().delete(),
        lambda model: model.objects.create(),
        lambda model: model.objects.all().delete(),
        lambda model: model.objects.update(pk=1),
        lambda model: model.objects.bulk_create([model()]),
        lambda model: model.objects.bulk_update([model(pk=1)], [model._meta.fields[-1].name]),
        lambda model: model.objects.update_or_create(pk=1),
        lambda model: model.objects.get_or_create(pk=1),
    ],
    ids=[
        "save",
        "delete",
        "create",
        "delete many",
        "update",
        "bulk create",
        "bulk update",
        "update or create",
        "get or create",
    ],
)
def test_a_table_cannot_be_written_outside_an_act(model: Any, write: Any) -> None:
    with pytest.raises(OutsideActError):
        write(model)


@pytest.mark.django_db
@pytest.mark.parametrize(
    "write",
    [lambda rows: rows.update(verb="other"), lambda rows: rows.delete()],
    ids=["update", "delete"],
)
def test_the_trail_cannot_be_changed_even_inside_an_act(write: Any) -> None:
    with pytest.raises(OutsideActError, match="audit trail"), act("x", by=Operator(), subject="x"):
        write(AuditRow.objects.all())


@pytest.mark.django_db
def test_an_act_leaves_one_row_that_continues_the_chain() -> None:
    with act("one thing done", by=Operator(), subject="trainee:HL-7K3PX") as doing:
        doing.note(course=1)
    with act("another thing done", by=Operator(), subject="trainee:HL-7K3PX"):
        pass
    links = list(links_about("trainee:HL-7K3PX"))
    assert [link.verb for link in links] == ["one thing done", "another thing done"]
    assert links[0].detail == '{"course":1}'
    assert links[1].previous == links[0].digest
    assert check_chain().holds


@pytest.mark.django_db
def test_an_act_without_a_subject_leaves_nothing() -> None:
    with pytest.raises(ValueError, match="about whom"), act("something", by=Operator()):
        pass
    assert not AuditRow.objects.exists()


@pytest.mark.django_db
def test_a_failure_inside_an_act_leaves_neither_row_nor_trail() -> None:
    with pytest.raises(DatabaseError), act("x", by=Operator(), subject="x"):
        _save_twice("HL-7K3PX")
    assert not Trainee.objects.exists()
    assert not AuditRow.objects.exists()


@pytest.mark.django_db
def test_the_door_is_shut_again_after_a_failure() -> None:
    with pytest.raises(RuntimeError), act("x", by=Operator(), subject="x"):
        raise RuntimeError
    with pytest.raises(OutsideActError):
        _save_trainee("HL-7K3PX")


@pytest.mark.django_db
def test_an_act_inside_an_act_leaves_its_own_row_and_is_undone_with_it() -> None:
    with act("outer", by=Operator(), subject="x"), act("inner", by=Operator(), subject="x"):
        pass
    with pytest.raises(DatabaseError), act("outer", by=Operator(), subject="y"):
        _inner_act_then_failure()
    assert [link.verb for link in links_about("x")] == ["inner", "outer"]
    assert list(links_about("y")) == []


@pytest.mark.django_db
def test_nothing_in_the_settings_turns_the_trail_off(settings: Any) -> None:
    """Whatever is switched, the row is there: an act reads no setting but the installation."""
    settings.DEBUG = True
    settings.AXES_ENABLED = False
    with act("done", by=Operator(), subject="x"):
        pass
    assert AuditRow.objects.count() == 1


@pytest.mark.django_db
def test_a_row_shows_who_did_what() -> None:
    with act("done", by=Operator(), subject="x"):
        pass
    assert str(AuditRow.objects.get()).endswith("operator done x")
    assert str(AuditHead.objects.get()).startswith("1:")


def _save_trainee(code: str) -> None:
    from django.utils import timezone

    Trainee(code=code, site="harbour", entered=timezone.now(), entered_by="operator").save(
        force_insert=True
    )


def _save_twice(code: str) -> None:
    _save_trainee(code)
    _save_trainee(code)


def _inner_act_then_failure() -> None:
    with act("inner", by=Operator(), subject="y"):
        _save_trainee("HL-7K3PX")
    _save_trainee("HL-7K3PX")


N_WRITERS, N_ACTS = 8, 12


@pytest.mark.django_db(transaction=True)
def test_many_writers_at_once_leave_one_unbroken_chain() -> None:
    failures: list[BaseException] = []

    def write(who: int) -> None:
        try:
            for number in range(N_ACTS):
                with act(f"act {number}", by=Operator(), subject=f"writer:{who}"):
                    pass
        except BaseException as failure:
            failures.append(failure)
        finally:
            connection.close()

    threads = [threading.Thread(target=write, args=(who,)) for who in range(N_WRITERS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    report = check_chain()
    assert failures == []
    assert report.problems == ()
    assert report.head.number == N_WRITERS * N_ACTS


# The database's own refusals, past everything that Python does


@pytest.fixture
def three_rows(db: None) -> None:
    for number in range(3):
        with act(f"act {number}", by=Operator(), subject="x"):
            pass


REFUSED = {
    "update": "UPDATE audit_auditrow SET actor = 'staff:2' WHERE number = 2",
    "delete": "DELETE FROM audit_auditrow WHERE number = 3",
    "delete head": "DELETE FROM audit_audithead",
    "move head back": "UPDATE audit_audithead SET number = 2",
    "move head on": "UPDATE audit_audithead SET number = 4",
    "other digest": "UPDATE audit_audithead SET number = 4, digest = 'x'",
    "insert with a gap": "INSERT INTO audit_auditrow (number, version, at, actor, verb, subject,"
    " detail, previous, digest) VALUES (9, 1, '', '', '', '', '{}', 'x', 'y')",
    "insert off the chain": "INSERT INTO audit_auditrow (number, version, at, actor, verb, subject,"
    " detail, previous, digest) VALUES (4, 1, '', '', '', '', '{}', 'x', 'y')",
    "second head": "INSERT INTO audit_audithead (id, number, digest) VALUES (2, 3, 'x')",
}
TRUNCATIONS = {
    "truncate": "TRUNCATE audit_auditrow",
    "truncate head": "TRUNCATE audit_audithead",
}


def _refusals() -> dict[str, str]:
    on_server = "postgresql" in settings.DATABASES["default"]["ENGINE"]
    return REFUSED | TRUNCATIONS if on_server else REFUSED


@pytest.mark.parametrize("kind", _refusals())
def test_the_database_refuses_to_touch_the_trail(kind: str, three_rows: None) -> None:
    before = list(AuditRow.objects.values_list()), list(AuditHead.objects.values_list())
    with (
        pytest.raises(DatabaseError),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(_refusals()[kind])
    after = list(AuditRow.objects.values_list()), list(AuditHead.objects.values_list())
    assert after == before


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE audit_auditrow SET actor = 'staff:2' WHERE number = 2",
        "DELETE FROM audit_auditrow WHERE number = 2",
        "DELETE FROM audit_auditrow WHERE number = 3",
        "DELETE FROM audit_audithead",
    ],
)
def test_whoever_drops_the_triggers_first_is_found_by_the_chain(statement: str) -> None:
    from sidelong.clinic.audit.triggers import remove_triggers

    for number in range(3):
        with act(f"act {number}", by=Operator(), subject="x"):
            pass
    with connection.schema_editor() as editor:
        remove_triggers(None, editor)
        editor.execute(statement)
    assert not check_chain().holds


def test_another_kind_of_database_is_refused() -> None:
    from types import SimpleNamespace

    from sidelong.clinic.audit.triggers import install_triggers

    editor = SimpleNamespace(connection=SimpleNamespace(vendor="mysql"))
    with pytest.raises(NotImplementedError, match="mysql"):
        install_triggers(None, editor)  # type: ignore[arg-type]


def test_the_server_clock_cannot_be_passed_in() -> None:
    import inspect

    assert set(inspect.signature(act).parameters) == {"verb", "by", "subject"}
    assert set(inspect.signature(acts.append).parameters) == {"doing"}
