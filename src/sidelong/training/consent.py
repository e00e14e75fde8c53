"""Whether a trainee's nights may count towards what is learned of trainees in general."""

from enum import StrEnum


class Consent(StrEnum):
    """What was answered when the use of nights beyond one's own answer was asked for.

    Only ``yes`` counts. Nobody's own answer depends on it.
    """

    NOT_ASKED = "not asked"
    YES = "yes"
    NO = "no"
