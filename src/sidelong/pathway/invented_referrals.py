"""Invented referrals, their answers and clinicians' decisions, for the demo.

Shares are assumptions of a simulator and anchored nowhere but where ``docs/method/readiness.md``
says so.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from sidelong.pathway.readiness import sort_readiness
from sidelong.training.gates import Answer
from sidelong.training.protocol import Protocol
from sidelong.training.readiness import Readiness
from sidelong.training.referral import PRACTICE, Decided, Decision, Referral

CLINICIAN = "Clinician A (invented)"
ROLE = "swallowing specialist"

_SHARE_WITH_A_YES = 0.45
_SHARE_UNKNOWN = 0.1
_SHARE_DECIDED = 0.85
_YOUNGEST, _OLDEST = 4, 40


def draw_referrals(
    n_trainees: int, *, protocol: Protocol, prefix: str, today: date, rng: np.random.Generator
) -> tuple[Referral, ...]:
    """Draw who is referred and what staff were told.

    Parameters
    ----------
    n_trainees : int
        How many.
    protocol : Protocol
        Whose questions are asked.
    prefix : str
        Of the trainees' codes.
    today : date
        Referrals came in during the weeks before.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    tuple of Referral
        By day of referral.
    """
    days = sorted(rng.integers(20, 70, size=n_trainees).tolist(), reverse=True)
    return tuple(
        _draw_referral(
            f"{prefix}-{number:04d}", today - timedelta(days=before), protocol=protocol, rng=rng
        )
        for number, before in enumerate(days, start=1)
    )


def draw_decisions(
    referrals: Sequence[Referral], *, protocol: Protocol, today: date, rng: np.random.Generator
) -> tuple[Decision, ...]:
    """Draw what the invented clinician decided: gates first, then practice as a whole.

    Parameters
    ----------
    referrals : sequence of Referral
        As screened.
    protocol : Protocol
        The site's protocol.
    today : date
        The day of the decisions.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    tuple of Decision
        None for those who are not to practise now, and for a few who still wait.
    """
    decisions: list[Decision] = []
    for referral in referrals:
        result = sort_readiness(referral, protocol, today=today)
        if result.readiness is Readiness.NOT_NOW or result.unanswered:
            continue
        if rng.random() > _SHARE_DECIDED:
            continue
        decide = _Decider(referral.trainee, today, protocol)
        decisions += [
            decide(reason.gate, "seen at the visit, eats and drinks well")
            for reason in result.reasons
            if reason.state is Readiness.CLINICIAN_FIRST
        ]
        decisions.append(decide(PRACTICE, "water and first piece seen swallowed cleanly"))
    return tuple(decisions)


class _Decider:
    """Writes decisions of one day about one trainee."""

    def __init__(self, trainee: str, today: date, protocol: Protocol) -> None:
        self._plain = Decision(
            trainee=trainee,
            gate=PRACTICE,
            decided=Decided.GO,
            decided_by=CLINICIAN,
            role=ROLE,
            decided_on=today,
            expires_on=today + timedelta(days=protocol.course.decision_days),
            reason="to be said",
        )

    def __call__(self, gate: str, reason: str) -> Decision:
        return replace(self._plain, gate=gate, reason=f"{reason} (invented)")


def _draw_referral(
    trainee: str, referred: date, *, protocol: Protocol, rng: np.random.Generator
) -> Referral:
    # Children are most of them: ages from the youngest band up, thinning out.
    age = min(_YOUNGEST + int(rng.gamma(2.0, 3.5)), _OLDEST)
    answers = dict.fromkeys(protocol.questions, Answer.NO)
    keys = list(answers)
    if rng.random() < _SHARE_WITH_A_YES:
        answers[keys[rng.integers(len(keys))]] = Answer.YES
    if rng.random() < _SHARE_UNKNOWN:
        answers[keys[rng.integers(len(keys))]] = Answer.UNKNOWN
    band = protocol.band_of(age)
    return Referral(
        trainee=trainee,
        site=protocol.site,
        age_years=age,
        answers=answers,
        band=band.name if band else "",
        language=protocol.languages[0],
        referred=referred,
    )
