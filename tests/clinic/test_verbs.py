"""What holds for every action and every query of the clinic, whichever app it is in.

Every public function of a module of actions needs a case here; a new one without a case fails.
"""

import importlib
import importlib.util
import inspect
import pkgutil
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps

import sidelong.clinic
from sidelong.clinic.accounts import actions as staff
from sidelong.clinic.accounts.people import NotPermitted
from sidelong.clinic.accounts.roles import ALLOWED, Permission, Role
from sidelong.clinic.audit import acts
from sidelong.clinic.audit.models import AuditRow
from sidelong.clinic.identities import actions as identities
from sidelong.clinic.identities.identity import Identity
from sidelong.clinic.keys import Purpose
from sidelong.clinic.practice import actions as practice
from sidelong.clinic.practice import fit_actions as fits
from sidelong.clinic.practice import promise_actions as promises
from sidelong.clinic.practice import up_actions as up_practice
from sidelong.clinic.practice.answers import fingerprint_of
from sidelong.clinic.practice.evidence import evidence_of
from sidelong.clinic.practice.typed import TypedCell, TypedNight
from sidelong.clinic.protocols import actions as protocols
from sidelong.clinic.sheets import actions as sheets
from sidelong.clinic.sheets import clearing_actions as clearing
from sidelong.clinic.sheets import note_actions as notes
from sidelong.clinic.sheets.reading import ReadSheet
from sidelong.clinic.trainees import actions as trainees
from sidelong.clinic.trainees import plan_actions as plans
from sidelong.clinic.trainees.models import Course
from sidelong.exchange.protocols import read_demo_protocol
from sidelong.paper.sheet import Paper
from sidelong.training.consent import Consent
from sidelong.training.entry import WentDown
from sidelong.training.gates import Answer
from sidelong.training.layout import Field, FieldType, SheetPage, Target, TargetKind
from sidelong.training.piece import Shape
from sidelong.training.position import Position
from sidelong.training.promise import DoseKind, FirstDose, SeenBy
from sidelong.training.reading import FieldReading, PageReading, PageStatus
from sidelong.training.referral import Referral
from sidelong.training.safety import Tier

NOW = datetime.now(UTC)  # as the cast of trainees: no date of theirs may lie after it
PRACTICE_CAST = Path(__file__).parent / "practice" / "cast.py"
TRAINEES_CAST = Path(__file__).parent / "trainees" / "cast.py"
WHO = Identity("Inventia", "Madeup", date(2018, 2, 3), supporter_name="Fictor Madeup")


@dataclass
class World:
    """People and rows that a case needs, made before the verb is called."""

    make_staff: Callable[..., Any]
    settings: Any
    people: dict[Role, Any] = field(default_factory=dict)

    def person(self, role: Role) -> Any:
        if role not in self.people:
            self.people[role] = self.make_staff(role)
        return self.people[role]

    def newcomer(self) -> Any:
        return self.make_staff(Role.COACH, username="newcomer")

    def trainee(self, identity: Identity | None = None) -> str:
        return trainees.enter_trainee(
            site="harbour",
            language="en",
            identity=identity,
            now=NOW,
            below=lambda n: n // 2,
            by=self.person(Role.LEAD),
        )

    def trainee_on_course(self) -> str:
        code = self.trainee()
        trainees.open_course(code=code, now=NOW, by=self.person(Role.LEAD))
        return code

    def turned_key(self) -> None:
        self.trainee(WHO)
        here = self.settings.INSTALLATION
        ring = here.key_ring().with_new_key(
            Purpose.NAMES, today=NOW.date(), draw=lambda n: b"t" * n
        )
        here.keep_key_ring(ring)


@dataclass(frozen=True)
class Case:
    """One verb: what it needs, how it is called, and who may."""

    permission: Permission | None
    arrange: Callable[[World], dict[str, Any]]
    n_rows: int = 1


def entering(_: World) -> dict[str, Any]:
    return {
        "site": "harbour",
        "language": "en",
        "identity": WHO,
        "now": NOW,
        "below": lambda n: n - 1,
    }


def referring(world: World) -> dict[str, Any]:
    code = world.trainee()
    referral = Referral(code, "harbour", 8, answers={"asthma": Answer.NO})
    return {"referral": referral, "now": NOW}


def adding(_: World) -> dict[str, Any]:
    return {"username": "new", "display_name": "New", "roles": [Role.COACH]}


def load_cast(path: Path) -> Any:
    found = importlib.util.spec_from_file_location(f"cast_of_{path.parent.name}", path)
    cast = importlib.util.module_from_spec(found)
    found.loader.exec_module(cast)
    return cast


def on_the_way(world: World, *, until: str) -> tuple[Any, str]:
    """Somebody who has come so far; gives the cast and the code."""
    cast = load_cast(TRAINEES_CAST)
    lead = world.person(Role.LEAD)
    cast.take_up(lead)
    code = cast.refer(lead)
    if until in {"decision", "visit", "plan"}:
        cast.clear(code, world.person(Role.CLINICIAN))
    if until in {"visit", "plan"}:
        cast.visit(code, lead)
        plans.begin_allocation(now=NOW, by=lead)
    if until == "plan":
        cast.issue(code, lead)
    return cast, code


def answering(world: World) -> dict[str, Any]:
    _, code = on_the_way(world, until="referral")
    return {"code": code, "answers": {"diabetes": Answer.YES}, "now": NOW}


def deciding(world: World) -> dict[str, Any]:
    cast, code = on_the_way(world, until="referral")
    return {"decision": cast.decision(code), "now": NOW}


def visiting(world: World) -> dict[str, Any]:
    cast, code = on_the_way(world, until="decision")
    return {"visit": cast.seen(code), "release": True, "now": NOW}


def issuing(world: World) -> dict[str, Any]:
    return {"code": on_the_way(world, until="visit")[1], "now": NOW}


def taking_over(world: World) -> dict[str, Any]:
    cast, code = on_the_way(world, until="visit")
    return {"plan": cast.plan_elsewhere(code), "now": NOW}


def printing(world: World) -> dict[str, Any]:
    def typeset(template: str, *, page: Any) -> bytes:
        return f"{template} {page['code']}".encode()

    _, code = on_the_way(world, until="plan")
    return {"code": code, "paper": Paper.A4, "language": "en", "now": NOW, "typeset": typeset}


def laying_a_ladder(world: World) -> dict[str, Any]:
    cast = load_cast(TRAINEES_CAST)
    protocols.take_up_protocol(protocol=read_demo_protocol(), now=NOW, by=world.person(Role.LEAD))
    return {"site": "demo", "ladder": cast.ladder(), "now": NOW}


def practising(world: World) -> dict[str, Any]:
    """A course with a plan, which the practice tests' cast sets down."""
    cast = load_cast(PRACTICE_CAST)
    cast.set_down_course()
    return {"code": cast.CODE, "course": 1}


def typing_a_night(world: World) -> dict[str, Any]:
    night = TypedNight(1, 0, (TypedCell("4", "first"),) * 5, scale="5")
    return practising(world) | {"nights": [night], "now": NOW, "today": NOW.date()}


def telling_an_event(world: World) -> dict[str, Any]:
    return practising(world) | {"night": 2, "tier": Tier.ACT_FIRST, "position": None, "now": NOW}


def answering_an_event(world: World) -> dict[str, Any]:
    told = telling_an_event(world)
    event = practice.record_event(**told, by=world.person(Role.LEAD))
    answer = practice.ClinicianAnswer.MAY_GO_ON
    return {"code": told["code"], "event": event, "answer": answer, "now": NOW}


def signing(world: World) -> dict[str, Any]:
    where = practising(world)
    row = Course.objects.get()
    return where | {
        "seen": fingerprint_of(evidence_of(row)),
        "decision": practice.Decision.SAME_PLAN,
        "position": None,
        "now": NOW,
    }


def dosing(world: World) -> dict[str, Any]:
    where = practising(world)
    promises.lock_estimate(**where, now=NOW, by=world.person(Role.LEAD))
    dose = FirstDose(
        trainee=where["code"],
        course=1,
        given_on=NOW.date(),
        position=Position.LEFT,
        kind=DoseKind.TABLET,
        shape=Shape.OVAL,
        largest_mm=12.0,
        seen_by=SeenBy.STAFF,
        went_down=WentDown.FIRST,
    )
    return {"dose": dose, "now": NOW}


def signing_off_up(world: World) -> dict[str, Any]:
    where = practising(world)
    return where | {"role": "swallowing specialist", "reason": "seen at the visit", "now": NOW}


def taking_up_back(world: World) -> dict[str, Any]:
    where = signing_off_up(world)
    up_practice.sign_off_up(**where, by=world.person(Role.CLINICIAN))
    return {key: where[key] for key in ("code", "course", "reason", "now")}


def photographing(world: World) -> dict[str, Any]:
    """A photograph with one sheet, as the reader would hand it over."""
    where = practising(world)
    page = SheetPage(
        page_id="HL-7K3PX-01",
        pdf_page=0,
        width_mm=210.0,
        height_mm=297.0,
        fields=(
            Field(
                "p1.rating",
                FieldType.ONE_OF,
                (Target("p1.rating.4", "4", TargetKind.CIRCLE, 60.0, 80.0, 8.0, 8.0),),
            ),
        ),
        version=1,
        night=1,
    )
    read = PageReading(
        page.page_id, PageStatus.OK, 1.0, {"p1.rating": FieldReading("4", 0.6, False)}
    )
    boxes = {"p1.rating": {"box": [50.0, 70.0, 20.0, 20.0], "values": ["4"]}}
    sheet = ReadSheet(read, b"picture", boxes, page)
    return {
        "code": where["code"],
        "course": where["course"],
        "content": b"photograph",
        "now": NOW,
        "wash": bytes,
        "read": lambda *_: (sheet,),
    }


def photographed(world: World) -> dict[str, Any]:
    sent = photographing(world)
    (sheet,) = sheets.receive_photograph(**sent, by=world.person(Role.LEAD)).sheets
    return {"code": sent["code"], "course": sent["course"], "sheet": sheet, "now": NOW}


def looking(world: World) -> dict[str, Any]:
    return photographed(world) | {"field": "p1.rating", "value": "4"}


def confirming(world: World) -> dict[str, Any]:
    told = looking(world)
    sheets.say_answer(**told, by=world.person(Role.LEAD))
    where = {key: told[key] for key in ("code", "course", "sheet", "now")}
    return where | {"today": NOW.date()}


def naming_a_spare(world: World) -> dict[str, Any]:
    sent = photographing(world)
    read = sent["read"]

    def spare(washed: bytes, course: Course) -> list[ReadSheet]:
        return [replace(each, page=replace(each.page, night=None)) for each in read(washed, course)]

    keys = sheets.receive_photograph(**sent | {"read": spare}, by=world.person(Role.LEAD)).sheets
    where = {"code": sent["code"], "course": sent["course"], "now": NOW}
    return where | {"sheet": keys[0], "night": 3}


def noting(world: World) -> dict[str, Any]:
    sent = photographing(world)
    read = sent["read"]

    def noted(washed: bytes, course: Course) -> list[ReadSheet]:
        box = {"box": [104.0, 240.0, 80.6, 10.0], "values": [], "ink": 0.1}
        return [
            replace(each, boxes=dict(each.boxes) | {"note.0": box}) for each in read(washed, course)
        ]

    keys = sheets.receive_photograph(**sent | {"read": noted}, by=world.person(Role.LEAD)).sheets
    where = {"code": sent["code"], "course": sent["course"], "now": NOW}
    return where | {"sheet": keys[0], "area": "note.0", "text": "grandmother was there"}


def clearing_out(world: World) -> dict[str, Any]:
    where = photographed(world)
    sheets.set_aside(**where, by=world.person(Role.LEAD))
    return {"older_than": timedelta(days=30), "now": NOW + timedelta(days=31)}


CASES: dict[Callable[..., Any], Case] = {
    staff.create_staff: Case(Permission.MANAGE_STAFF, adding),
    staff.invite_staff: Case(Permission.MANAGE_STAFF, lambda w: {"user": w.newcomer()}),
    staff.change_roles: Case(
        Permission.MANAGE_STAFF, lambda w: {"user": w.newcomer(), "roles": [Role.ANALYST]}
    ),
    staff.end_access: Case(Permission.MANAGE_STAFF, lambda w: {"user": w.newcomer()}),
    staff.give_access_back: Case(Permission.MANAGE_STAFF, lambda w: {"user": w.newcomer()}),
    staff.remove_second_factors: Case(Permission.MANAGE_STAFF, lambda w: {"user": w.newcomer()}),
    staff.choose_password: Case(
        None,
        lambda w: {
            "user": w.person(Role.ADMINISTRATOR),
            "password": "seven quiet harbour lamps",
        },
    ),
    identities.record_identity: Case(
        Permission.CHANGE_NAMES, lambda w: {"code": w.trainee(), "identity": WHO}
    ),
    identities.change_identity: Case(
        Permission.CHANGE_NAMES,
        lambda w: {"code": w.trainee(WHO), "identity": WHO, "reason": "checked"},
    ),
    identities.erase_identity: Case(
        Permission.CHANGE_NAMES, lambda w: {"code": w.trainee(WHO), "reason": "asked for"}
    ),
    identities.reseal_identities: Case(Permission.TURN_KEYS, lambda w: w.turned_key() or {}),
    # Who somebody is, is recorded as an act of its own within.
    trainees.enter_trainee: Case(Permission.ENTER_TRAINEES, entering, n_rows=2),
    trainees.refer_trainee: Case(
        Permission.ENTER_TRAINEES,
        lambda w: {
            "referral": Referral("drawn later", "harbour", 8, language="en"),
            "identity": WHO,
            "now": NOW,
            "below": lambda n: n - 1,
        },
        n_rows=3,
    ),
    trainees.answer_questions: Case(Permission.ENTER_TRAINEES, answering),
    trainees.decide: Case(Permission.DECIDE, deciding),
    plans.record_visit: Case(Permission.RECORD_VISITS, visiting),
    plans.begin_allocation: Case(Permission.ISSUE_PLANS, lambda w: {"now": NOW}),
    plans.issue_plan: Case(Permission.ISSUE_PLANS, issuing),
    plans.take_over_plan: Case(Permission.ISSUE_PLANS, taking_over),
    plans.hand_out_booklet: Case(Permission.ISSUE_PLANS, printing),
    protocols.take_up_protocol: Case(
        Permission.TAKE_UP_PROTOCOLS, lambda w: {"protocol": read_demo_protocol(), "now": NOW}
    ),
    protocols.take_up_ladder: Case(Permission.TAKE_UP_PROTOCOLS, laying_a_ladder),
    trainees.write_referral: Case(Permission.ENTER_TRAINEES, referring),
    trainees.open_course: Case(Permission.RUN_COURSES, lambda w: {"code": w.trainee(), "now": NOW}),
    trainees.close_course: Case(
        Permission.RUN_COURSES,
        lambda w: {
            "code": w.trainee_on_course(),
            "why": trainees.WhyClosed.FINISHED,
            "now": NOW,
        },
    ),
    practice.keep_nights: Case(Permission.RECORD_NIGHTS, typing_a_night),
    practice.record_event: Case(Permission.RECORD_EVENTS, telling_an_event),
    practice.answer_event: Case(Permission.ANSWER_EVENTS, answering_an_event),
    practice.sign_result: Case(Permission.SIGN_RESULTS, signing),
    up_practice.sign_off_up: Case(Permission.SIGN_OFF_UP, signing_off_up),
    up_practice.withdraw_up: Case(Permission.SIGN_OFF_UP, taking_up_back),
    fits.record_consent: Case(
        Permission.RECORD_CONSENT,
        lambda w: {"code": w.trainee(), "answer": Consent.YES, "now": NOW},
    ),
    fits.refit: Case(Permission.FIT_COHORT, lambda _: {"now": NOW, "today": NOW.date()}),
    promises.lock_estimate: Case(
        Permission.BEGIN_FOLLOW_UPS, lambda w: practising(w) | {"now": NOW}
    ),
    promises.record_first_dose: Case(Permission.RECORD_FIRST_DOSES, dosing),
    sheets.receive_photograph: Case(Permission.RECORD_NIGHTS, photographing),
    sheets.say_answer: Case(Permission.RECORD_NIGHTS, looking),
    # The night that it becomes is kept as an act of its own within.
    sheets.confirm_sheet: Case(Permission.RECORD_NIGHTS, confirming, n_rows=2),
    sheets.set_aside: Case(Permission.RECORD_NIGHTS, photographed),
    sheets.name_spare: Case(Permission.RECORD_NIGHTS, naming_a_spare),
    notes.type_note: Case(Permission.RECORD_NIGHTS, noting),
    clearing.remove_old_photographs: Case(Permission.CLEAR_PHOTOGRAPHS, clearing_out),
}


def functions_of(kind: str) -> dict[str, Callable[..., Any]]:
    """Public functions of every app, in its modules of a kind: ``actions`` or ``queries``."""
    found = {}
    for module in pkgutil.walk_packages(sidelong.clinic.__path__, "sidelong.clinic."):
        app, _, last = module.name.removeprefix("sidelong.clinic.").rpartition(".")
        if last != kind and not last.endswith(f"_{kind}"):
            continue
        for key, value in vars(importlib.import_module(module.name)).items():
            if inspect.isfunction(value) and value.__module__ == module.name and key[0] != "_":
                found[f"{app}.{key}"] = value
    return found


ACTIONS = functions_of("actions")
QUERIES = functions_of("queries")


@pytest.fixture
def world(make_staff: Callable[..., Any], settings: Any, tmp_path: Path) -> Any:
    settings.MEDIA_ROOT = tmp_path / "media"
    ring = settings.INSTALLATION.key_ring()
    yield World(make_staff, settings)
    settings.INSTALLATION.keep_key_ring(ring)


def everything() -> dict[str, list[tuple[Any, ...]]]:
    """All rows of all tables."""
    return {
        model._meta.label: sorted(map(repr, model._base_manager.values_list()))
        for model in apps.get_models()
    }


def test_every_action_has_a_case_here() -> None:
    missing = [name for name, verb in ACTIONS.items() if verb not in CASES]
    assert missing == []


@pytest.mark.parametrize("name", [name for name in ACTIONS if ACTIONS[name] in CASES])
def test_an_action_takes_keywords_only_and_says_by_whom(name: str) -> None:
    parameters = inspect.signature(ACTIONS[name]).parameters
    assert "by" in parameters
    assert {each.kind for each in parameters.values()} == {inspect.Parameter.KEYWORD_ONLY}


def test_every_query_about_people_says_who_sees() -> None:
    """The trail's own two are called by machines, and by queries above that ask."""
    silent = [
        name
        for name, query in QUERIES.items()
        if "seen_by" not in inspect.signature(query).parameters
    ]
    assert silent == ["audit.check_chain", "audit.links_about", "audit.begins_here"]


@pytest.mark.django_db
@pytest.mark.parametrize("verb", CASES, ids=lambda verb: verb.__name__)
def test_an_act_leaves_exactly_one_row_for_itself(verb: Any, world: World) -> None:
    case = CASES[verb]
    actor = world.person(holder_of(case.permission))
    arguments = case.arrange(world)
    n_before = AuditRow.objects.count()
    verb(**arguments, by=actor)
    rows = AuditRow.objects.order_by("number")[n_before:]
    own = [row for row in rows if row.actor == actor.audit_key]
    assert len(own) == case.n_rows


@pytest.mark.django_db
@pytest.mark.parametrize("verb", CASES, ids=lambda verb: verb.__name__)
def test_a_failing_trail_undoes_the_act(
    verb: Any, world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    case = CASES[verb]
    actor = world.person(holder_of(case.permission))
    arguments = case.arrange(world)
    before = everything()

    def fail(_: Any) -> None:
        raise OSError("no space left")

    monkeypatch.setattr(acts, "append", fail)
    with pytest.raises(OSError, match="no space left"):
        verb(**arguments, by=actor)
    assert everything() == before


@pytest.mark.any_database
@pytest.mark.django_db
@pytest.mark.parametrize("role", Role)
@pytest.mark.parametrize(
    "verb", [verb for verb, case in CASES.items() if case.permission], ids=lambda v: v.__name__
)
def test_only_those_with_the_permission_may(verb: Any, role: Role, world: World) -> None:
    case = CASES[verb]
    arguments = case.arrange(world)
    world.person(Role.ADMINISTRATOR)  # so that somebody is left to manage staff
    actor = world.person(role)
    before = everything()
    if case.permission in ALLOWED[role]:
        verb(**arguments, by=actor)
        assert everything() != before
    else:
        with pytest.raises(NotPermitted):
            verb(**arguments, by=actor)
        assert everything() == before


@pytest.mark.any_database
@pytest.mark.django_db
@pytest.mark.parametrize(
    "verb", [verb for verb, case in CASES.items() if case.permission], ids=lambda v: v.__name__
)
def test_nobody_whose_access_ended_may(verb: Any, world: World) -> None:
    case = CASES[verb]
    arguments = case.arrange(world)
    actor = world.person(holder_of(case.permission))
    actor.is_active = False
    with pytest.raises(NotPermitted):
        verb(**arguments, by=actor)


def holder_of(permission: Permission | None) -> Role:
    if permission is None:
        return Role.ADMINISTRATOR
    return next(role for role in Role if permission in ALLOWED[role])


PLANTED = ["Inventia", "Madeup", "Fictor", "2018-02-03"]


@pytest.mark.django_db
@pytest.mark.parametrize("verb", CASES, ids=lambda verb: verb.__name__)
def test_no_name_or_birth_date_lies_open_in_any_table(verb: Any, world: World) -> None:
    case = CASES[verb]
    actor = world.person(holder_of(case.permission))
    verb(**case.arrange(world), by=actor)
    found = [
        (table, planted)
        for table, rows in everything().items()
        for planted in PLANTED
        if any(planted.casefold() in row.casefold() for row in rows)
    ]
    assert found == []
