"""The site's protocol on paper: everything that is signed, and the place to sign it.

Sentences that families read are printed as families read them; questions, reasons and sources as
the site wrote them. A protocol that is not signed as approved, or that was invented for a
demonstration, says so on every page.
"""

from dataclasses import asdict, dataclass, field
from datetime import date
from typing import Literal

from sidelong.paper.gate_words import asked_lines, effect_lines, evidence_line
from sidelong.paper.language import Language, message
from sidelong.paper.protocol_sections import (
    PrintedSection,
    Speaker,
    age_section,
    home_sections,
    number_sections,
    off_sections,
    position_section,
    signing_section,
)
from sidelong.paper.typst import typeset
from sidelong.training.gates import Gate
from sidelong.training.protocol import Protocol

_SIGNERS = (
    message("Lead of the programme"),
    message("Swallowing specialist"),
    message("Doctor"),
    message("Pharmacist"),
    message("Dietitian"),
)


@dataclass(frozen=True)
class PrintedGate:
    """One question: number, words, reason, effects, and where it comes from."""

    number: str
    question: str
    why: str
    asked: tuple[str, ...]
    effects: tuple[str, ...]
    evidence: str


@dataclass(frozen=True)
class PrintedProtocol:
    """All that the printed protocol says.

    Parameters
    ----------
    title, code : str
        Head of the document, and site with version for the foot of every page.
    banner : str
        Unsigned or invented; empty for a protocol that is signed as approved.
    facts : tuple of (str, str)
        Version, dates, fingerprint.
    before, after : tuple of PrintedSection
        What stands before and after the questions.
    gates_heading : str
        Head of the questions.
    gates_sentences : tuple of str
        How the answers are read.
    gate_columns : tuple of str
        Heads of the table of questions.
    gates : tuple of PrintedGate
        Questions in use, by number.
    signing : PrintedSection
        Who signed.
    signers : tuple of str
        Roles with an empty line each.
    signer_columns : tuple of str
        Heads of the empty lines.
    page_of : str
        Sentence with the fields ``{page}`` and ``{pages}``.
    """

    title: str
    code: str
    banner: str
    facts: tuple[tuple[str, str], ...]
    before: tuple[PrintedSection, ...]
    gates_heading: str
    gates_sentences: tuple[str, ...]
    gate_columns: tuple[str, ...]
    gates: tuple[PrintedGate, ...]
    after: tuple[PrintedSection, ...]
    signing: PrintedSection
    signers: tuple[str, ...]
    signer_columns: tuple[str, ...]
    page_of: str
    made_on: date = field(kw_only=True)


def print_protocol(
    protocol: Protocol,
    *,
    language: Language,
    today: date,
    paper: Literal["a4", "letter"] = "a4",
) -> bytes:
    """Set a site's protocol.

    Parameters
    ----------
    protocol : Protocol
        What is printed, signed or not.
    language : Language
        Where the headings come from; the site's own sentences are printed in it where they exist.
    today : date
        Day of the print.
    paper : str
        ``a4`` or ``letter``.

    Returns
    -------
    bytes
        A tagged PDF (PDF/UA-1).
    """
    printed = compose_protocol(protocol, language=language, today=today)
    page = {
        **asdict(printed),
        "made_on": today.isoformat(),
        "lang": language.tag.split("-")[0],
        "rtl": language.is_right_to_left,
        "paper": paper,
    }
    return typeset("protocol.typ", page=page)


def compose_protocol(protocol: Protocol, *, language: Language, today: date) -> PrintedProtocol:
    """Put a protocol into words and tables, in the order in which a signer reads it.

    Parameters
    ----------
    protocol : Protocol
        Signed or not.
    language : Language
        Where the headings come from.
    today : date
        Day of the print.

    Returns
    -------
    PrintedProtocol
        Ready to be set.
    """
    speak = Speaker(protocol, language)
    return PrintedProtocol(
        title=language.say("Protocol of the programme"),
        code=language.say("{site}, version {version}").format(
            site=protocol.site, version=protocol.version
        ),
        banner=_banner(protocol, language),
        facts=_facts(protocol, language),
        before=(age_section(protocol, language), position_section(protocol, speak)),
        gates_heading=language.say("Questions before anybody practises"),
        gates_sentences=(
            language.say(
                'Each is answered yes, no or do not know; "do not know" and no answer count as '
                "yes. Nothing here clears anybody: a named clinician decides."
            ),
            language.say(
                "The questions that ship with the program are a proposal. A site reviews every "
                "row with its own specialists before use."
            ),
        ),
        gate_columns=(
            language.say("No."),
            language.say("Question and reason"),
            language.say("What a yes does"),
        ),
        gates=tuple(_gate(gate, language) for gate in protocol.active_gates),
        after=(
            *off_sections(protocol, language),
            *home_sections(protocol, speak),
            *number_sections(protocol, language),
        ),
        signing=signing_section(protocol, language),
        signers=tuple(language.say(role) for role in _SIGNERS),
        signer_columns=tuple(
            language.say(word)
            for word in (message("Role"), message("Name"), message("Date"), message("Signature"))
        ),
        page_of=language.say("Page {page} of {pages}"),
        made_on=today,
    )


def _banner(protocol: Protocol, language: Language) -> str:
    if protocol.invented:
        return language.say("Invented for a demonstration. Not for use with anybody.")
    if not protocol.is_approved:
        return language.say("Draft, not signed. Not for use.")
    return ""


def _facts(protocol: Protocol, language: Language) -> tuple[tuple[str, str], ...]:
    name = protocol.site_name or language.say("not filled in yet")
    return (
        (language.say("Site"), f"{name} ({protocol.site})"),
        (language.say("Version"), language.number(protocol.version)),
        (language.say("Valid from"), language.day(protocol.valid_from)),
        (language.say("Time zone"), language.number(protocol.time_zone)),
        (language.say("Languages"), language.number(", ".join(protocol.languages))),
        (language.say("Fingerprint"), language.number(protocol.fingerprint)),
    )


def _gate(gate: Gate, language: Language) -> PrintedGate:
    return PrintedGate(
        number=str(gate.number),
        question=gate.question,
        why=gate.why,
        asked=asked_lines(gate, language),
        effects=effect_lines(gate, language),
        evidence=evidence_line(gate, language),
    )
