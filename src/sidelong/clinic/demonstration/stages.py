"""How far each of the invented trainees has come: a few at every stage of the way.

The first ones come before the clinic has values of its own, so their results were signed on those
that ship with the program. The clinic learns from them, and everybody since rests on its own fit.
The counts are invented.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta

from sidelong.clinic.demonstration.nights import SPARSE, USUAL, is_hard, says_something, shows
from sidelong.clinic.demonstration.walk import Surroundings, Walk
from sidelong.clinic.trainees.actions import WhyClosed
from sidelong.training.consent import Consent
from sidelong.training.estimate import Verdict
from sidelong.training.readiness import Readiness
from sidelong.training.safety import Tier

_LAST = 14
FIRST_FIT, NEXT_FIT = 17, 16
"""Days ago on which the clinic's own fit was made, and made anew after somebody withdrew."""

# Days since the teaching visit, signed 16 days after it; decisions hold for 42.
_SIGNED_BEFORE_THE_FIT = (34, 42)
_SIGNED_SINCE = (21, 31)
_CLOSED_AFTER = 30


@dataclass(frozen=True)
class Stage:
    """Where some of the invented trainees stand.

    Parameters
    ----------
    says : str
        In words, for those who read the table.
    n : int
        How many stand there.
    go : callable
        Takes one of them there.
    """

    says: str
    n: int
    go: Callable[[Surroundings], None]


def _referred(around: Surroundings) -> None:
    _screened(around, Readiness.READY, days=15).refer()


def _half_asked(around: Surroundings) -> None:
    walk = _screened(around, Readiness.READY, days=12)
    walk.refer()
    walk.ask(n_left=9)


def _asked(readiness: Readiness) -> Callable[[Surroundings], None]:
    def go(around: Surroundings) -> None:
        walk = _screened(around, readiness, days=8)
        walk.refer()
        walk.ask()

    return go


def _decided_against(around: Surroundings) -> None:
    walk = _screened(around, Readiness.CLINICIAN_FIRST, days=4)
    walk.refer()
    walk.ask()
    walk.decide_against()


def _decided(around: Surroundings) -> None:
    walk = _allowed(around, visit_before=-5)
    walk.refer()
    walk.ask()
    walk.decide(at=-6)


def _taught(
    around: Surroundings,
    *,
    days: int = 1,
    is_clean: bool = True,
    consent: Consent = Consent.YES,
) -> Walk:
    walk = _allowed(around, visit_before=days)
    walk.refer()
    walk.ask()
    walk.decide()
    if consent is not Consent.NOT_ASKED:
        walk.answer_consent(consent)
    walk.teach(is_clean=is_clean)
    return walk


def _not_yet_seen(around: Surroundings) -> None:
    _taught(around, days=3, is_clean=False, consent=Consent.NOT_ASKED)


def _to_be_planned(around: Surroundings) -> None:
    _taught(around)


def _planned(around: Surroundings) -> None:
    _taught(around).plan()


def _at_home(around: Surroundings, *, days: int, consent: Consent = Consent.YES) -> Walk:
    walk = _taught(around, days=days, consent=consent)
    walk.plan()
    walk.hand_out()
    return walk


def _nothing_back(around: Surroundings) -> None:
    _at_home(around, days=5)


def _on_night(last: int) -> Callable[[Surroundings], None]:
    def go(around: Surroundings) -> None:
        _at_home(around, days=last + 1).practise(last)

    return go


def _struggling(around: Surroundings) -> None:
    walk = _at_home(around, days=8)
    walk.practise(7, that=is_hard)
    walk.happen(Tier.STOP_TONIGHT, night=6)


def _locked(around: Surroundings) -> None:
    walk = _at_home(around, days=6)
    walk.practise(4)
    walk.happen(Tier.ACT_FIRST, night=5)


def _answered(around: Surroundings) -> None:
    walk = _at_home(around, days=11)
    walk.practise(4)
    event = walk.happen(Tier.ACT_FIRST, night=5)
    walk.answer(event, night=7)


def _coughed(around: Surroundings) -> None:
    walk = _at_home(around, days=10, consent=Consent.NO)
    walk.practise(9)
    walk.happen(Tier.PAUSE, night=3)


def _full(around: Surroundings) -> None:
    _at_home(around, days=_LAST + 2).practise(that=says_something)


def _signed_before(consent: Consent) -> Callable[[Surroundings], None]:
    """Sign before the clinic had a fit of its own."""

    def go(around: Surroundings) -> None:
        days = int(around.rng.integers(*_SIGNED_BEFORE_THE_FIT))
        _sign_and_dose(_at_home(around, days=days, consent=consent), days=days)

    return go


def _signed_since(
    verdict: Verdict, *, consent: Consent = Consent.YES
) -> Callable[[Surroundings], None]:
    """Sign with this verdict, on the clinic's own fit."""

    def go(around: Surroundings) -> None:
        days = int(around.rng.integers(*_SIGNED_SINCE))
        walk = _at_home(around, days=days, consent=consent)
        _sign_and_dose(walk, days=days, verdict=verdict)

    return go


def _sign_and_dose(walk: Walk, *, days: int, verdict: Verdict | None = None) -> None:
    """Sign, and let the first dose follow where a position was decided on."""
    conduct = SPARSE if verdict is Verdict.INSUFFICIENT else USUAL
    wanted = says_something if verdict is None else shows(verdict)
    course = walk.practise(conduct=conduct, that=wanted)
    position = walk.sign()
    if position is None:
        return
    walk.take_dose(position, course=course)
    if days > _CLOSED_AFTER:
        walk.close(WhyClosed.FINISHED, after=_CLOSED_AFTER)


def _repeating(around: Surroundings) -> None:
    walk = _at_home(around, days=30, consent=Consent.NOT_ASKED)
    walk.practise(that=shows(Verdict.TOO_CLOSE))
    walk.sign()
    walk.close(WhyClosed.FINISHED, after=17)
    walk.begin_again(around.today - timedelta(days=6))
    walk.decide(at=-2)
    walk.teach()
    walk.plan()
    walk.hand_out()
    walk.practise(5)


def _lost(around: Surroundings) -> None:
    walk = _at_home(around, days=41)
    walk.practise(3)
    walk.close(WhyClosed.LOST, after=33)


def _screened(around: Surroundings, readiness: Readiness, *, days: int) -> Walk:
    """Begin with somebody whom the rules put there, asked so many days ago."""
    visit_day = around.today - timedelta(days=days - 14)
    return Walk(around, around.waiting.take(readiness), visit_day)


def _allowed(around: Surroundings, *, visit_before: int) -> Walk:
    """Begin with somebody for whom decisions let pieces go home."""
    clinician = around.staff.clinician.display_name
    referral, decisions = around.waiting.take_decided(by=clinician)
    visit_day = around.today - timedelta(days=visit_before)
    return Walk(around, referral, visit_day, decisions)


BEFORE_THE_FIT = (
    # Enough of them consent for an own fit, also once one of them has withdrawn; together with
    # those signed since there are first doses enough to lay against what was said.
    Stage("signed before the own fit; may be learned from", 14, _signed_before(Consent.YES)),
    Stage("signed before the own fit; may not be learned from", 1, _signed_before(Consent.NO)),
    Stage("lost to follow-up", 1, _lost),
)
SINCE_THE_FIT = (
    Stage("referred; the questions are still to be asked", 1, _referred),
    Stage("some questions asked", 1, _half_asked),
    Stage("ready for a clinician's decision", 1, _asked(Readiness.READY)),
    Stage("a clinician first", 2, _asked(Readiness.CLINICIAN_FIRST)),
    Stage("not now", 1, _asked(Readiness.NOT_NOW)),
    Stage("decided: not to practise", 1, _decided_against),
    Stage("decided; the visit is to be held", 2, _decided),
    Stage("visit held; no piece seen to go down yet", 1, _not_yet_seen),
    Stage("visit held; a plan is to be issued", 1, _to_be_planned),
    Stage("plan issued; no booklet yet", 1, _planned),
    Stage("at home; nothing has come back", 1, _nothing_back),
    *(Stage(f"nights to {n} typed", 1, _on_night(n)) for n in (1, 3, 7, 10, 13)),
    Stage("struggling", 1, _struggling),
    Stage("locked after an event", 1, _locked),
    Stage("locked, then answered: may go on", 1, _answered),
    Stage("a brief cough", 1, _coughed),
    Stage("all nights typed; the result is to be signed", 2, _full),
    Stage("signed: clear", 2, _signed_since(Verdict.CLEAR)),
    Stage("signed: likely", 2, _signed_since(Verdict.LIKELY)),
    Stage("signed: too close", 2, _signed_since(Verdict.TOO_CLOSE)),
    Stage("signed: all work", 2, _signed_since(Verdict.ALL_WORK)),
    Stage("signed: insufficient", 1, _signed_since(Verdict.INSUFFICIENT, consent=Consent.NO)),
    Stage("on a second course", 1, _repeating),
)
STAGES = (*BEFORE_THE_FIT, *SINCE_THE_FIT)
