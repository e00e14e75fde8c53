"""Who is referred to the invented clinic: drawn, and picked by where the rules put them."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from sidelong.clinic.identities.identity import Identity
from sidelong.pathway.invented_referrals import draw_decisions, draw_referrals
from sidelong.pathway.readiness import sort_readiness
from sidelong.training.ladder import Ladder
from sidelong.training.piece import fit_limits
from sidelong.training.protocol import Protocol
from sidelong.training.readiness import Limits, Readiness
from sidelong.training.referral import Decision, Referral

_N_DRAWN = 400
_TRIES = 50
_PIECES_AT_A_VISIT = 3
# Plants, so that nobody takes a name on the screen for somebody's.
_GIVEN = (
    *("Acacia", "Basil", "Clover", "Dahlia", "Elder", "Fennel", "Gorse", "Hazel", "Iris"),
    *("Juniper", "Kale", "Laurel", "Marigold", "Nettle", "Olive", "Poppy", "Quince", "Rowan"),
    *("Sage", "Thyme", "Ulmus", "Violet", "Willow", "Yarrow", "Zinnia", "Aster", "Birch"),
    *("Cedar", "Daisy", "Fern", "Heather", "Ivy", "Jasmine", "Linden", "Mint", "Myrtle"),
    *("Oak", "Peony", "Reed", "Saffron", "Tansy", "Verbena", "Wisteria", "Borage", "Briar"),
)
_FAMILY = ("Invented", "Madeup", "Imagined")


def visit_pieces(ladder: Ladder, limits: Limits) -> tuple[str, ...]:
    """Give the codes of the small pieces that may be tried at a first visit, smallest first."""
    return tuple(
        piece.code
        for piece in ladder.steps[:_PIECES_AT_A_VISIT]
        if fit_limits(piece, limits.ingredients, max_piece_mm=limits.max_piece_mm).fits
    )


class Waiting:
    """Invented referrals from which each stage of the way takes somebody who fits it.

    Parameters
    ----------
    protocol : Protocol
        Whose questions were asked.
    ladder : Ladder
        The clinic's pieces.
    today : date
        The day of the demo.
    rng : numpy.random.Generator
        Source of chance.
    """

    def __init__(
        self, protocol: Protocol, ladder: Ladder, *, today: date, rng: np.random.Generator
    ) -> None:
        self._protocol, self._ladder, self._today, self._rng = protocol, ladder, today, rng
        drawn = draw_referrals(_N_DRAWN, protocol=protocol, prefix="D", today=today, rng=rng)
        self._left: list[Referral] = [drawn[each] for each in rng.permutation(len(drawn))]
        self._n_taken = 0

    def take(
        self, readiness: Readiness, *, that: Callable[[Referral], bool] = lambda _: True
    ) -> Referral:
        """Take the next one whom the rules put there.

        Parameters
        ----------
        readiness : Readiness
            Where the rules must put the referral.
        that : callable
            What else must hold.

        Returns
        -------
        Referral
            With a stand-in for its code.

        Raises
        ------
        LookupError
            If nobody is left who fits.
        """
        for referral in self._left:
            result = sort_readiness(referral, self._protocol, today=self._today)
            if result.readiness is readiness and not result.unanswered and that(referral):
                self._left.remove(referral)
                return referral
        raise LookupError(f"nobody who was drawn is {readiness}")

    def take_decided(self, *, by: str) -> tuple[Referral, tuple[Decision, ...]]:
        """Take somebody for whom decisions let pieces go home; dates are the day of the demo.

        Parameters
        ----------
        by : str
            Name of the clinician.

        Returns
        -------
        tuple of Referral and tuple of Decision
            Who, and what was decided.

        Raises
        ------
        LookupError
            If nobody is left who fits.
        """
        for _ in range(_TRIES):
            state = Readiness.READY if self._rng.random() < 0.75 else Readiness.CLINICIAN_FIRST
            referral = self.take(state)
            decisions = self.decisions_on(referral, by=by)
            result = sort_readiness(
                referral, self._protocol, today=self._today, decisions=decisions
            )
            if result.may_plan and visit_pieces(self._ladder, result.limits):
                return referral, decisions
        raise LookupError("nobody who was drawn may practise at home")

    def decisions_on(self, referral: Referral, *, by: str) -> tuple[Decision, ...]:
        """Draw what a clinician decides about somebody; empty for those who cannot be decided."""
        for _ in range(_TRIES):
            drawn = draw_decisions(
                [referral], protocol=self._protocol, today=self._today, rng=self._rng
            )
            if drawn:
                return tuple(replace(each, decided_by=by) for each in drawn)
        return ()

    def name(self, referral: Referral) -> Identity:
        """Invent whom a referral is about; nobody has the same name twice."""
        number, self._n_taken = self._n_taken, self._n_taken + 1
        given = _GIVEN[number % len(_GIVEN)]
        family = _FAMILY[number // len(_GIVEN) % len(_FAMILY)]
        years = referral.age_years or 0
        born = self._today - timedelta(days=round(365.25 * years) + 100)
        return Identity(
            given_names=given,
            family_name=family,
            birth_date=born,
            supporter_name="" if years >= 18 else f"{family} senior (invented)",
            phone=f"0000 000 {number:03d}",
            email=f"{given.lower()}@example.invalid",
        )
