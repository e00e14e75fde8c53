"""Back-fill signs as questions that a coach can ask kindly at the follow-up visit.

For the staff's own screen alone: these sentences are in no letter and in nothing that is printed.
"""

from sidelong.paper.language import Language, message
from sidelong.pathway.backfill import BackfillFinding, BackfillSign, Sensitivity
from sidelong.pathway.report_nights import spans_of

_NOTICED = {
    BackfillSign.WRITTEN_LATER: message("Said to be written later: night {nights}."),
    BackfillSign.ONE_SITTING: message("Written within minutes of one another: night {nights}."),
    BackfillSign.REPEATED: message("No answer differs from night to night: night {nights}."),
    BackfillSign.BY_PLACE: message(
        "Answers follow the place on the sheet more than the position: night {nights}."
    ),
    BackfillSign.PIECES: message("The pieces that are gone do not fit the answers."),
}
_ASKED = {
    BackfillSign.WRITTEN_LATER: message(
        "Evenings get busy. For which of these nights do you remember well how it went?"
    ),
    BackfillSign.ONE_SITTING: message(
        "Many families note several nights at once. How did you remember each of them?"
    ),
    BackfillSign.REPEATED: message(
        "Did it really feel the same each evening, or was it hard to tell?"
    ),
    BackfillSign.BY_PLACE: message(
        "Was the first one of an evening always different from the last, whichever way the head "
        "was?"
    ),
    BackfillSign.PIECES: message(
        "Were pieces lost, shared or used up in another way? Were there nights without a sheet?"
    ),
}
KINDLY = message(
    "A sign is a reason to ask and proves nothing. Thank the family for every night that was "
    "practised, and for saying so where one was not."
)
_STAYS = message("Without these nights the answer stays the same.")
_CHANGES = message(
    "Without these nights the answer would be another one: let the talk decide how much they weigh."
)


def say_finding(finding: BackfillFinding, language: Language) -> tuple[str, str]:
    """Say what was noticed, and a question that asks about it without blame.

    Parameters
    ----------
    finding : BackfillFinding
        One sign.
    language : Language
        Where the sentences come from.

    Returns
    -------
    tuple of str
        What was noticed; the question.
    """
    noticed = language.say(_NOTICED[finding.sign])
    nights = spans_of(finding.nights, language)
    return noticed.format(nights=nights), language.say(_ASKED[finding.sign])


def say_sensitivity(sensitivity: Sensitivity, language: Language) -> str:
    """Say in one sentence what hangs on the nights with a sign."""
    return language.say(_CHANGES if sensitivity.changes_answer else _STAYS)
