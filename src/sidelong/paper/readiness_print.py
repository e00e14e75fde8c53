"""One trainee's readiness on paper: reasons, limits, what is missing, and who must decide.

The page sorts and explains. It never says that somebody may practise: that is the signature's.
Notes on an answer are left out; they stay in the clinic's record.
"""

from dataclasses import asdict, dataclass
from typing import Literal

from sidelong.paper.gate_words import CHANGE_WORDS, LIMIT_WORDS
from sidelong.paper.heads import HEAD_WORDS
from sidelong.paper.language import Language, message
from sidelong.paper.typst import typeset
from sidelong.training.gates import Answer, Effect, PlanChange
from sidelong.training.piece import IngredientLimit
from sidelong.training.position import Position
from sidelong.training.protocol import Protocol
from sidelong.training.readiness import Limits, Part, Readiness, Reason, SortedReferral

_STATES = {
    Readiness.READY: message("Ready for a clinician's decision"),
    Readiness.CLINICIAN_FIRST: message("A clinician first"),
    Readiness.NOT_NOW: message("Not now"),
}
_REASON_STATES = {
    Readiness.READY: message("settled, or limits only"),
    Readiness.CLINICIAN_FIRST: message("a clinician decides"),
    Readiness.NOT_NOW: message("not now"),
}
_ANSWERS = {
    Answer.YES: message("yes"),
    Answer.NO: message("no"),
    Answer.UNKNOWN: message("do not know"),
    None: message("no answer yet"),
}
_EFFECTS = {
    Effect.POSITIONS: message("positions removed"),
    Effect.INGREDIENTS: message("ingredients limited"),
    Effect.PLAN: message("plan changed"),
}
_PARTS = {
    Part.PROTOCOL: message("Protocol"),
    Part.BAND: message("Age band"),
    Part.GATES: message("Questions"),
    Part.ANSWERS: message("No answer yet"),
    Part.PIECE_SIZE: message("Largest piece"),
    Part.WATER: message("Water"),
    Part.HOME: message("Practice at home"),
    Part.DECISION: message("Decision"),
}


@dataclass(frozen=True)
class PrintedReason:
    """One question that counts as yes."""

    number: str
    question: str
    why: str
    answer: str
    asks: str


@dataclass(frozen=True)
class PrintedReadiness:
    """All that the page says.

    Parameters
    ----------
    title, state, caution, banner : str
        Head, where the referral stands, that nobody is cleared, and whether the protocol is a
        draft or invented; the banner is empty for a signed one.
    facts, limits, missing : tuple of (str, str)
        Labels and values.
    reasons_heading, limits_heading, missing_heading : str
        Heads of the parts.
    reason_columns : tuple of str
        Heads of the reasons.
    reasons : tuple of PrintedReason
        By number; empty where nothing counts as yes.
    no_reason : str
        What stands there instead.
    positions : tuple of Position
        Positions left, drawn.
    decision_heading : str
        Head of the place to sign.
    decision_sentences, choices, lines : tuple of str
        What holds now, decisions to tick, and what is written by hand.
    page_of : str
        Sentence with the fields ``{page}`` and ``{pages}``.
    """

    title: str
    state: str
    caution: str
    banner: str
    facts: tuple[tuple[str, str], ...]
    reasons_heading: str
    reason_columns: tuple[str, ...]
    reasons: tuple[PrintedReason, ...]
    no_reason: str
    limits_heading: str
    positions: tuple[Position, ...]
    limits: tuple[tuple[str, str], ...]
    missing_heading: str
    missing: tuple[tuple[str, str], ...]
    decision_heading: str
    decision_sentences: tuple[str, ...]
    choices: tuple[str, ...]
    lines: tuple[str, ...]
    page_of: str


def print_readiness(
    sorted_referral: SortedReferral,
    *,
    protocol: Protocol,
    language: Language,
    paper: Literal["a4", "letter"] = "a4",
) -> bytes:
    """Set one trainee's readiness.

    Parameters
    ----------
    sorted_referral : SortedReferral
        As sorted under this protocol.
    protocol : Protocol
        Where the questions stand.
    language : Language
        Where the words come from; questions and reasons as the site wrote them.
    paper : str
        ``a4`` or ``letter``.

    Returns
    -------
    bytes
        A tagged PDF (PDF/UA-1), one page unless there are very many reasons.
    """
    printed = compose_readiness(sorted_referral, protocol=protocol, language=language)
    page = {
        **asdict(printed),
        "code": sorted_referral.trainee,
        "made_on": sorted_referral.sorted_on.isoformat(),
        "lang": language.tag.split("-")[0],
        "rtl": language.is_right_to_left,
        "paper": paper,
    }
    return typeset("readiness.typ", page=page)


def compose_readiness(
    sorted_referral: SortedReferral, *, protocol: Protocol, language: Language
) -> PrintedReadiness:
    """Put a sorted referral into words.

    Parameters
    ----------
    sorted_referral : SortedReferral
        As sorted under this protocol.
    protocol : Protocol
        Where the questions stand.
    language : Language
        Where the words come from.

    Returns
    -------
    PrintedReadiness
        Ready to be set.

    Raises
    ------
    ValueError
        If it was sorted under another text of the protocol: its questions may differ.
    """
    if sorted_referral.protocol_fingerprint != protocol.fingerprint:
        raise ValueError("the referral was sorted under another text of the protocol")
    questions = {gate.key: gate.question for gate in protocol.gates}
    return PrintedReadiness(
        title=language.say("Readiness check"),
        state=language.say(_STATES[sorted_referral.readiness]),
        caution=language.say(
            "This page clears nobody. It sorts answers by the site's protocol. A named clinician "
            "decides and signs; local rules come first."
        ),
        banner=_banner(protocol, language),
        facts=_facts(sorted_referral, protocol, language),
        reasons_heading=language.say("What counts as yes"),
        reason_columns=(
            language.say("No."),
            language.say("Question and reason"),
            language.say("Answer"),
            language.say("What it asks for"),
        ),
        reasons=tuple(
            _reason(each, questions[each.gate], language) for each in sorted_referral.reasons
        ),
        no_reason=language.say("No question counts as yes. That is not the same as safe."),
        limits_heading=language.say("What a plan must keep to"),
        positions=sorted_referral.limits.positions,
        limits=_limits(sorted_referral.limits, language),
        missing_heading=language.say("Still missing before a plan"),
        missing=_missing(sorted_referral, protocol, language),
        decision_heading=language.say("Decision"),
        decision_sentences=_held(sorted_referral, language),
        choices=(
            language.say("go"),
            language.say("go with limits"),
            language.say("do not go"),
        ),
        lines=(
            language.say("Reason and limits"),
            language.say("Holds until"),
            language.say("Name"),
            language.say("Role"),
            language.say("Date and signature"),
        ),
        page_of=language.say("Page {page} of {pages}"),
    )


def _banner(protocol: Protocol, language: Language) -> str:
    if protocol.invented:
        return language.say("Invented for a demonstration. Not for use with anybody.")
    if not protocol.is_approved:
        return language.say("Sorted under a draft that nobody has signed. Not for use.")
    return ""


def _facts(
    sorted_referral: SortedReferral, protocol: Protocol, language: Language
) -> tuple[tuple[str, str], ...]:
    facts = [
        (language.say("Code"), language.number(sorted_referral.trainee)),
        (language.say("Site"), protocol.site_name or sorted_referral.site),
        (language.say("Age band"), sorted_referral.band or "-"),
        (language.say("Sorted on"), language.day(sorted_referral.sorted_on)),
        (
            language.say("Protocol"),
            language.number(
                f"{sorted_referral.protocol_version} ({sorted_referral.protocol_fingerprint[:12]})"
            ),
        ),
    ]
    return tuple(facts)


def _reason(reason: Reason, question: str, language: Language) -> PrintedReason:
    asks = [language.say(_REASON_STATES[reason.state])]
    if reason.state is not Readiness.READY:
        if reason.until:
            asks.append(language.say("until {end}").format(end=reason.until))
        if reason.decide_by:
            asks.append(language.say("decides: {who}").format(who=reason.decide_by))
        if reason.refer:
            asks.append(language.say("refer"))
    asks += [language.say(words) for effect, words in _EFFECTS.items() if effect in reason.effects]
    return PrintedReason(
        number=str(reason.number),
        question=question,
        why=reason.why,
        answer=language.say(_ANSWERS[reason.answer]),
        asks="; ".join(asks),
    )


def _limits(limits: Limits, language: Language) -> tuple[tuple[str, str], ...]:
    positions = [language.say(HEAD_WORDS[each].name) for each in limits.positions]
    rows = [(language.say("Positions to use"), ", ".join(positions))]
    ingredients = [each for each in IngredientLimit if each in limits.ingredients]
    if ingredients:
        said = "; ".join(language.say(LIMIT_WORDS[each]) for each in ingredients)
        rows.append((language.say("Pieces"), said))
    changes = [each for each in PlanChange if each in limits.changes]
    if changes:
        said = "; ".join(language.say(CHANGE_WORDS[each]) for each in changes)
        rows.append((language.say("Plan"), said))
    if limits.max_piece_mm is not None:
        size = language.number(f"{limits.max_piece_mm:g}\u00a0mm")
        rows.append((language.say("Largest piece"), size))
    if limits.water_ml is not None:
        water = language.number(f"{limits.water_ml:g}\u00a0mL")
        rows.append((language.say("Water for an evening"), water))
    return tuple(rows)


def _missing(
    sorted_referral: SortedReferral, protocol: Protocol, language: Language
) -> tuple[tuple[str, str], ...]:
    """Name what is missing; questions by their number, as in the table above."""
    rows = []
    for part in dict.fromkeys(gap.part for gap in sorted_referral.missing):
        if part is Part.GATES:
            says = _open_gates(sorted_referral, language)
        elif part is Part.ANSWERS:
            says = _numbers(sorted_referral.unanswered, protocol)
        else:
            says = "; ".join(gap.says for gap in sorted_referral.missing if gap.part is part)
        rows.append((language.say(_PARTS[part]), says))
    return tuple(rows)


def _open_gates(sorted_referral: SortedReferral, language: Language) -> str:
    said = []
    for state in (Readiness.NOT_NOW, Readiness.CLINICIAN_FIRST):
        numbers = [str(each.number) for each in sorted_referral.reasons if each.state is state]
        if numbers:
            words = language.say("{state}: {numbers}")
            shown = language.number(", ".join(numbers))
            said.append(words.format(state=language.say(_REASON_STATES[state]), numbers=shown))
    return "; ".join(said)


def _numbers(keys: tuple[str, ...], protocol: Protocol) -> str:
    """Give the numbers of questions and of those whose follow-up question is open."""
    by_key = {gate.key: gate.number for gate in protocol.gates}
    by_key |= {g.follow_up.key: g.number for g in protocol.gates if g.follow_up is not None}
    return ", ".join(str(by_key[key]) if key in by_key else key for key in keys)


def _held(sorted_referral: SortedReferral, language: Language) -> tuple[str, ...]:
    ends = language.say(
        "A decision ends with its date, and with any illness or new medicine before that."
    )
    if sorted_referral.decided_on is None or sorted_referral.expires_on is None:
        return (language.say("No decision for practice as a whole holds today."), ends)
    said = language.say("On record: decided on {day} ({role}); it ends on {end}.").format(
        day=language.day(sorted_referral.decided_on),
        role=sorted_referral.decided_role,
        end=language.day(sorted_referral.expires_on),
    )
    return (said, ends)
