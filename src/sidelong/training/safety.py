"""Safety at home: three tiers of events, what is asked before an evening, and who to call.

The program ships no medical emergency protocol. What to do when somebody chokes is taught by the
site, and its number and its words stand in the site's protocol.
"""

from dataclasses import dataclass
from enum import StrEnum

from sidelong.problems import Problem, Refused
from sidelong.training.wording import FamilyText


class Tier(StrEnum):
    """How grave an event is, mildest first."""

    PAUSE = "pause"
    STOP_TONIGHT = "stop_tonight"
    ACT_FIRST = "act_first"

    @property
    def locks_practice(self) -> bool:
        """Whether practice stays locked until a clinician has answered."""
        return self is Tier.ACT_FIRST

    @property
    def is_safety_event(self) -> bool:
        """Whether it is recorded as one; its position is then never recommended."""
        return self is not Tier.PAUSE


@dataclass(frozen=True)
class TierWords:
    """What a family reads about one tier.

    Parameters
    ----------
    tier : Tier
        Which one.
    signs, actions : tuple of FamilyText
        What is seen, and what to do then; at least one of each.

    Raises
    ------
    Refused
        If there is no sign or no action.
    """

    tier: Tier
    signs: tuple[FamilyText, ...]
    actions: tuple[FamilyText, ...]

    def __post_init__(self) -> None:
        """Refuse a tier that does not say what to see or what to do."""
        faults = [
            Problem(name, "there is no sentence", "Give at least one.", "protocol")
            for name in ("signs", "actions")
            if not getattr(self, name)
        ]
        if faults:
            raise Refused(faults)


@dataclass(frozen=True)
class EmergencyWords:
    """The site's own number and words for an emergency, in one language.

    Parameters
    ----------
    language : str
        BCP 47 tag.
    number : str
        The number to call, as it is dialled; empty in a draft, where pages leave a line for it.
    words : str
        What to do, as the site teaches it; free text of the site; empty in a draft.

    Raises
    ------
    Refused
        If there is no language.
    """

    language: str
    number: str = ""
    words: str = ""

    def __post_init__(self) -> None:
        """Refuse words in no language."""
        if not self.language.strip():
            remedy = "Give the tag of the language."
            raise Refused([Problem("language", "it is empty", remedy, "protocol")])

    @property
    def is_complete(self) -> bool:
        """Whether a family would know whom to call and what to do."""
        return bool(self.number.strip() and self.words.strip())


@dataclass(frozen=True)
class ClinicLine:
    """How a family reaches the clinic, and when nobody answers.

    Parameters
    ----------
    unwatched : FamilyText
        Says that nobody is watching in the evening.
    phone : str
        The number, as it is dialled; empty in a draft, where pages leave a line for it.
    hours : FamilyText or None
        When somebody answers; None in a draft.
    """

    unwatched: FamilyText
    phone: str = ""
    hours: FamilyText | None = None

    @property
    def is_complete(self) -> bool:
        """Whether a family would know how and when to call."""
        return bool(self.phone.strip()) and self.hours is not None


class Tonight(StrEnum):
    """The six questions that every site asks before an evening's practice."""

    ILL = "ill"
    SLEEPY = "sleepy"
    VOMITING = "vomiting"
    SORE_MOUTH = "sore_mouth"
    NEW_SIGN = "new_sign"
    ADULT_PRESENT = "adult_present"


@dataclass(frozen=True)
class TonightQuestion:
    """One question before an evening's practice.

    Parameters
    ----------
    key : str
        One of :class:`Tonight`, or a short name of the site's own.
    question : FamilyText
        As the family reads it.
    yes_stops : bool
        Whether "yes" means "not tonight"; else "no" does.

    Raises
    ------
    Refused
        If the key is empty, or a standard question stops on the wrong answer.
    """

    key: str
    question: FamilyText
    yes_stops: bool = True

    def __post_init__(self) -> None:
        """Refuse a question that would let through what it asks about."""
        faults = []
        if not self.key:
            faults.append(Problem("key", "it is empty", "Give a short name.", "protocol"))
        if self.key in set(Tonight) and self.yes_stops != (self.key != Tonight.ADULT_PRESENT):
            remedy = f"Set it to {str(not self.yes_stops).lower()}."
            what = "the question stops on the wrong answer"
            faults.append(Problem("yes_stops", what, remedy, "protocol"))
        if faults:
            raise Refused(faults)
