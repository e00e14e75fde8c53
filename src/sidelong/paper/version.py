"""Which version of a booklet is printed: for whom it speaks, and how large it is set."""

from enum import StrEnum

from sidelong.training.plan import Plan
from sidelong.training.protocol import Protocol

TEEN_FROM, ADULT_FROM = 12, 18  # completed years


class Audience(StrEnum):
    """For whom words and figures are made."""

    CHILD = "child"
    TEEN = "teen"
    ADULT = "adult"


class Edition(StrEnum):
    """How large a booklet is set: large print has 18 points or more throughout."""

    STANDARD = "standard"
    LARGE = "large"


def audience_at(age_years: int) -> Audience:
    """Tell for whom a booklet speaks, by age in completed years."""
    if age_years >= ADULT_FROM:
        return Audience.ADULT
    return Audience.TEEN if age_years >= TEEN_FROM else Audience.CHILD


def audience_of(plan: Plan, protocol: Protocol) -> Audience:
    """Tell for whom a plan's booklet speaks, by the age band that the plan names.

    Parameters
    ----------
    plan : Plan
        Whose booklet it is.
    protocol : Protocol
        The site's age bands.

    Returns
    -------
    Audience
        Adult where the whole band is of age, teen where its youngest is 12 or older, else child:
        a band that holds both gets the words that its youngest can read. An unknown band, too.
    """
    ages = {band.name: band.from_age for band in protocol.bands}
    return audience_at(ages.get(plan.band, 0))
