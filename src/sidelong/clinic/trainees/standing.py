"""Where a trainee stands on a day: the same rules as by command, over what is kept here."""

from dataclasses import dataclass
from datetime import date

from sidelong.clinic.protocols.documents import protocol_of
from sidelong.clinic.protocols.in_use import protocol_row
from sidelong.clinic.trainees.models import DecisionRow, ReferralRow
from sidelong.clinic.trainees.rows import decision_of, referral_of
from sidelong.pathway.readiness import may_plan, sort_readiness
from sidelong.problems import Problem, Refused
from sidelong.training.protocol import Protocol
from sidelong.training.readiness import Gap, Part, Readiness, SortedReferral
from sidelong.training.referral import PRACTICE, Decision, Referral

_HOLDING = {
    Readiness.NOT_NOW: "Not now, because of {}.",
    Readiness.CLINICIAN_FIRST: "A clinician decides first on {}.",
}


@dataclass(frozen=True)
class Standing:
    """A referral as sorted on one day, with what it was sorted from.

    Parameters
    ----------
    referral : Referral
        Its newest version, with all answers.
    protocol : Protocol
        The one in use at the site.
    decisions : tuple of Decision
        Everything that clinicians decided, oldest first.
    sorted_referral : SortedReferral
        What the rules make of it on that day.
    """

    referral: Referral
    protocol: Protocol
    decisions: tuple[Decision, ...]
    sorted_referral: SortedReferral

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """What is missing before a plan may be issued on that day."""
        day = self.sorted_referral.sorted_on
        return may_plan(self.sorted_referral, self.protocol, today=day)

    @property
    def told_gaps(self) -> tuple[str, ...]:
        """What is missing, for a page: questions are counted, the readiness page names each."""
        held = self.sorted_referral
        told = []
        for state, words in _HOLDING.items():
            n = sum(reason.state is state for reason in held.reasons)
            if n:
                told.append(words.format(_counted(n)))
        if held.unanswered:
            told.append(f"No answer yet: {_counted(len(held.unanswered))}; each counts as yes.")
        return (*told, *self.gaps_beside(Part.GATES, Part.ANSWERS))

    def gaps_beside(self, *parts: Part) -> tuple[str, ...]:
        """Say what is missing beside these parts, each as a sentence."""
        others = (gap.says for gap in self.gaps if gap.part not in parts)
        return tuple(f"{says[0].upper()}{says[1:]}." for says in others)

    @property
    def may_visit(self) -> bool:
        """Whether a decision lets pieces be tried with staff; home may still be ruled out."""
        return all(gap.part is Part.HOME for gap in self.gaps)


def _counted(n: int) -> str:
    return "1 question" if n == 1 else f"{n} questions"


def newest_referral(code: str) -> ReferralRow | None:
    """Find the newest version of a referral."""
    rows = ReferralRow.objects.filter(trainee=code).select_related("trainee")
    found: ReferralRow | None = rows.prefetch_related("given").order_by("-version").first()
    return found


def stand(code: str, *, today: date) -> Standing:
    """Sort one trainee's referral under the protocol of the site.

    Parameters
    ----------
    code : str
        The trainee's code.
    today : date
        The day.

    Returns
    -------
    Standing
        Where it stands.

    Raises
    ------
    Refused
        If there is no referral, or the site has no protocol.
    """
    row = newest_referral(code)
    if row is None:
        remedy = "Write the referral first."
        raise Refused([Problem(f"trainee {code}", "there is no referral", remedy, "referral")])
    decisions = DecisionRow.objects.filter(trainee=code)
    protocol = protocol_of(protocol_row(row.trainee.site).text)
    return sort_one(row, protocol, [decision_of(each) for each in decisions], today=today)


def sort_one(
    row: ReferralRow, protocol: Protocol, decisions: list[Decision], *, today: date
) -> Standing:
    """Sort a referral that was loaded with its answers and decisions."""
    referral = referral_of(row)
    sorted_referral = sort_readiness(referral, protocol, today=today, decisions=decisions)
    return Standing(referral, protocol, tuple(decisions), sorted_referral)


def deciding_row(standing: Standing) -> DecisionRow:
    """Find the row of the decision for practice as a whole that holds.

    Parameters
    ----------
    standing : Standing
        Of somebody for whom one holds.

    Returns
    -------
    DecisionRow
        The newest one of that day and role.

    Raises
    ------
    ValueError
        If none holds.
    """
    held = standing.sorted_referral
    if held.decided_on is None:
        raise ValueError("nobody decided")
    found: DecisionRow = DecisionRow.objects.filter(
        trainee=held.trainee,
        gate=PRACTICE,
        decided_on=held.decided_on,
        role=held.decided_role,
    ).latest("pk")
    return found
