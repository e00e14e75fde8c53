"""One invented trainee's walk along the way, by the same verbs as on the pages.

Every act is dated as it would have been; the trail alone keeps the moment of the making, since
nobody can tell it what time it is.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

import numpy as np
from django.utils import timezone

from sidelong.clinic.demonstration.nights import USUAL, Course, draw_course, typed_nights
from sidelong.clinic.demonstration.people import Waiting, visit_pieces
from sidelong.clinic.demonstration.staff import Hired
from sidelong.clinic.practice.actions import (
    ClinicianAnswer,
    Decision,
    answer_event,
    keep_nights,
    record_event,
    sign_result,
)
from sidelong.clinic.practice.fit_actions import record_consent
from sidelong.clinic.practice.fits import fit_of, key_in_use
from sidelong.clinic.practice.promise_actions import lock_estimate, record_first_dose
from sidelong.clinic.practice.queries import plan_seen, result_now
from sidelong.clinic.trainees.actions import (
    WhyClosed,
    answer_questions,
    close_course,
    decide,
    refer_trainee,
)
from sidelong.clinic.trainees.plan_actions import (
    hand_out_booklet,
    issue_plan,
    record_visit,
)
from sidelong.clinic.trainees.standing import stand
from sidelong.clinic.trainees.visit import Seen, SeenPiece, SeenWater, TeachingVisit
from sidelong.paper.sheet import Paper
from sidelong.pathway.invented_doses import invent_first_dose, true_chances
from sidelong.pathway.planning import rating_form
from sidelong.preferences import Conduct
from sidelong.training.consent import Consent
from sidelong.training.entry import Source
from sidelong.training.estimate import Estimate, Verdict
from sidelong.training.ladder import Ladder
from sidelong.training.plan import Plan
from sidelong.training.position import Position
from sidelong.training.promise import SeenBy
from sidelong.training.protocol import Protocol
from sidelong.training.referral import PRACTICE, Decided, Referral
from sidelong.training.referral import Decision as ClinicianDecision
from sidelong.training.safety import Tier

_MORNING = time(10)


@dataclass(frozen=True)
class Surroundings:
    """What every walk of one making shares.

    Parameters
    ----------
    today : date
        Today at the site; nothing is dated after it.
    protocol : Protocol
        The invented clinic's.
    ladder : Ladder
        Its pieces.
    staff : Hired
        In whose names it is done.
    waiting : Waiting
        Who is referred.
    rng : numpy.random.Generator
        Source of chance.
    """

    today: date
    protocol: Protocol
    ladder: Ladder
    staff: Hired
    waiting: Waiting
    rng: np.random.Generator


@dataclass
class Walk:
    """Walks with one trainee; each method is a step, called in the order of the way.

    Parameters
    ----------
    around : Surroundings
        What all walks share.
    referral : Referral
        With answers to every question, which are given when they are asked.
    visit_day : date
        Day of the teaching visit, from which the other days are counted.
    decisions : tuple of ClinicianDecision
        What a clinician decides, once it is asked for.
    """

    around: Surroundings
    referral: Referral
    visit_day: date
    decisions: tuple[ClinicianDecision, ...] = ()
    code: str = ""
    number: int = 1

    def refer(self) -> None:
        """Take the trainee up; the questions are still to be asked."""
        around, day = self.around, self._day(-17)
        self.code = refer_trainee(
            referral=replace(self.referral, answers={}, referred=day),
            identity=around.waiting.name(self.referral),
            now=at_morning(day),
            below=lambda n: int(around.rng.integers(n)),
            by=around.staff.coach,
        )

    def ask(self, *, n_left: int = 0) -> None:
        """Ask the questions; some may be left open."""
        answers = dict(list(self.referral.answers.items())[: len(self.referral.answers) - n_left])
        by = self.around.staff.coach
        answer_questions(code=self.code, answers=answers, now=at_morning(self._day(-14)), by=by)

    def decide(self, *, at: int = -6) -> None:
        """Let the clinician decide, gates first."""
        day = self._day(at)
        until = day + timedelta(days=self.around.protocol.course.decision_days)
        for each in self.decisions:
            dated = replace(each, trainee=self.code, decided_on=day, expires_on=until)
            decide(decision=dated, now=at_morning(day), by=self.around.staff.clinician)

    def decide_against(self) -> None:
        """Let the clinician decide that this trainee does not practise."""
        day, clinician = self._day(-6), self.around.staff.clinician
        decision = ClinicianDecision(
            trainee=self.code,
            gate=PRACTICE,
            decided=Decided.DO_NOT_GO,
            decided_by=clinician.display_name,
            role="swallowing specialist",
            decided_on=day,
            expires_on=day + timedelta(days=self.around.protocol.course.decision_days),
            reason="to be seen in the swallowing service first (invented)",
        )
        decide(decision=decision, now=at_morning(day), by=clinician)

    def answer_consent(self, answer: Consent) -> None:
        """Write down at the teaching visit whether the nights may be learned from."""
        now, by = at_morning(self.visit_day), self.around.staff.coach
        record_consent(code=self.code, answer=answer, now=now, by=by)

    def teach(self, *, is_clean: bool = True) -> None:
        """Hold the teaching visit; pieces go home only where one was seen swallowed cleanly."""
        limits = stand(self.code, today=self.visit_day).sorted_referral.limits
        fitting = visit_pieces(self.around.ladder, limits)
        down = SeenPiece.CLEAN if is_clean else SeenPiece.NOT_DOWN
        visit = TeachingVisit(
            trainee=self.code,
            held_on=self.visit_day,
            adult_present=True,
            trainee_agreed=True,
            seen=tuple(Seen(each, SeenWater.CLEAN, down) for each in limits.positions),
            piece=fitting[-1] if is_clean else fitting[0],
        )
        by = self.around.staff.coach
        record_visit(visit=visit, release=is_clean, now=at_morning(self.visit_day), by=by)

    def plan(self) -> None:
        """Issue the plan on the day of the visit; the first evening is the next one."""
        by, day = self.around.staff.coach, self.visit_day
        issue_plan(code=self.code, start=self._day(1), now=at_morning(day), by=by)

    def hand_out(self) -> None:
        """Make the booklet."""
        hand_out_booklet(
            code=self.code,
            paper=Paper.A4,
            language=self.around.protocol.languages[0],
            now=at_morning(self.visit_day),
            by=self.around.staff.coach,
        )

    def practise(
        self,
        last_night: int = 14,
        *,
        conduct: Conduct = USUAL,
        that: Callable[[Course], bool] | None = None,
    ) -> Course:
        """Type the nights that came back, the day after the last of them; gives what was true."""
        plan, rng = self._plan(), self.around.rng
        scale = rating_form(plan, self.around.protocol)
        fit = fit_of(key_in_use())
        course = draw_course(plan, scale=scale, rng=rng, conduct=conduct, that=that, fit=fit)
        first = self._day(1)
        nights = typed_nights(course, plan, first=first, last_night=last_night, rng=rng)
        on = min(first + timedelta(days=last_night), self.around.today)
        kept = keep_nights(
            code=self.code,
            course=self.number,
            nights=nights,
            source=Source.SHEET,
            now=at_morning(on),
            today=on,
            by=self.around.staff.coach,
        )
        if kept.faults:
            raise ValueError(f"an invented night is faulty: {kept.faults[0].text}")
        return course

    def happen(self, tier: Tier, *, night: int, in_slot: int = 2) -> int:
        """Record an event; gives its key."""
        order = self._plan().nights[night - 1].order
        return record_event(
            code=self.code,
            course=self.number,
            night=night,
            tier=tier,
            position=order[min(in_slot, len(order)) - 1],
            now=at_morning(self._day(night + 1)),
            by=self.around.staff.coach,
        )

    def answer(self, event: int, *, night: int) -> None:
        """Let the clinician answer an event: practice may go on."""
        answer_event(
            code=self.code,
            event=event,
            answer=ClinicianAnswer.MAY_GO_ON,
            now=at_morning(self._day(night + 1)),
            by=self.around.staff.clinician,
        )

    def sign(self) -> Position | None:
        """Hold the follow-up visit, 16 days after the first, and sign what the nights say.

        Returns
        -------
        Position or None
            For the medicine step. What was said is locked first: what comes later is laid
            against it.
        """
        clinician, now = self.around.staff.clinician, at_morning(self._day(16))
        lock_estimate(code=self.code, course=self.number, now=now, by=clinician)
        seen = result_now(self.code, self.number, seen_by=clinician)
        decision, position = _decided(seen.answer.estimate)
        sign_result(
            code=self.code,
            course=self.number,
            seen=seen.fingerprint,
            decision=decision,
            position=position,
            now=now,
            by=clinician,
        )
        return position

    def take_dose(self, position: Position, *, course: Course) -> None:
        """Take the first real dose at the clinic, three days after the follow-up visit."""
        plan, rng = self._plan(), self.around.rng
        chances = true_chances(
            course.ease[position],
            rng=rng,
            n_slots=len(plan.positions),
            piece_mm=plan.nights[-1].piece_mm,
        )
        day = self._day(19)
        dose = invent_first_dose(
            self.code,
            course=self.number,
            position=position,
            chances=chances,
            given_on=day,
            rng=rng,
            seen_by=SeenBy.STAFF,
        )
        record_first_dose(dose=dose, now=at_morning(day), by=self.around.staff.coach)

    def close(self, why: WhyClosed, *, after: int) -> None:
        """Close the course so many days after the visit."""
        by = self.around.staff.coach
        close_course(code=self.code, why=why, now=at_morning(self._day(after)), by=by)

    def begin_again(self, visit_day: date) -> None:
        """Turn to the next course, which its visit opens."""
        self.visit_day, self.number = visit_day, self.number + 1

    def _day(self, after: int) -> date:
        day = self.visit_day + timedelta(days=after)
        return min(day, self.around.today)

    def _plan(self) -> Plan:
        return plan_seen(self.code, self.number, seen_by=self.around.staff.coach)


def _decided(estimate: Estimate) -> tuple[Decision, Position | None]:
    """Decide as the invented clinic does; a real one decides by looking at somebody."""
    open_to = {each.position for each in estimate.positions if each.may_recommend}
    if estimate.verdict is Verdict.INSUFFICIENT:
        return Decision.SAME_PLAN, None
    if estimate.suggested in open_to:
        return Decision.MEDICINE_STEP, estimate.suggested
    if Position.CENTRE in open_to:  # the simplest, where nothing is ahead
        return Decision.MEDICINE_STEP, Position.CENTRE
    return Decision.SOMETHING_ELSE, None


def at_morning(day: date) -> datetime:
    """Give the time of day at which everything of a day was done, in the site's time zone."""
    return timezone.make_aware(datetime.combine(day, _MORNING))
