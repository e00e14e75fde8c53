"""The site's protocol: every rule of its programme as one versioned, signed value.

Signatures bind to the text: each carries the fingerprint of what was signed, and a protocol whose
text has changed since is refused until it is signed again. Site numbers live here and nowhere
else; a site may make the safety rules stricter and never looser.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass
from datetime import date
from enum import Enum, StrEnum
from functools import cached_property
from itertools import pairwise
from zoneinfo import ZoneInfo

from sidelong.problems import Problem, Refused
from sidelong.training.gate_rules import GateOff, off_faults, set_faults
from sidelong.training.gates import AskedBy, Gate
from sidelong.training.position import Position, in_listed_order
from sidelong.training.safety import (
    ClinicLine,
    EmergencyWords,
    Tier,
    TierWords,
    Tonight,
    TonightQuestion,
)
from sidelong.training.settings import AgeLimits, Band, Course, PositionWords, Practised, Success
from sidelong.training.stepping import SteppingRules
from sidelong.training.wording import FamilyText

__all__ = [
    "AgeLimits",
    "Band",
    "Course",
    "Meaning",
    "PositionWords",
    "Practised",
    "Protocol",
    "Signature",
    "Success",
    "fingerprint_of",
]


class Meaning(StrEnum):
    """What a signature says."""

    PROTOCOL_APPROVED = "protocol approved"
    UP_ALLOWED = "up allowed"
    GATES_REVIEWED = "gates reviewed"


SWALLOWING_SPECIALIST = "swallowing specialist"


@dataclass(frozen=True)
class Signature:
    """A named person's dated signature under one text.

    Parameters
    ----------
    role, name : str
        Who signed; `up` needs the role "swallowing specialist".
    signed_on : date
        When.
    meaning : Meaning
        What the signature says.
    fingerprint : str
        Fingerprint of the text that was signed.

    Raises
    ------
    Refused
        If role or name is empty.
    """

    role: str
    name: str
    signed_on: date
    meaning: Meaning
    fingerprint: str

    def __post_init__(self) -> None:
        """Refuse a signature of nobody."""
        faults = [
            _fault(name, "it is empty", "Say who signed, in which role, and which text.")
            for name in ("role", "name", "fingerprint")
            if not str(getattr(self, name)).strip()
        ]
        if faults:
            raise Refused(faults)


@dataclass(frozen=True)
class Protocol:
    """All settings of one site, in one version.

    Parameters
    ----------
    site, site_name : str
        The site's code, as tables write it, and its name, as pages print it; a draft may leave
        the name empty.
    version : str
        The site's version of its protocol.
    valid_from : date
        First day on which it holds.
    time_zone : str
        IANA name; nights end there at 04:00.
    languages : tuple of str
        BCP 47 tags of the languages that families are offered, the first one by default.
    ages : AgeLimits
        For hard sugar pieces.
    bands : tuple of Band
        Age bands, youngest first, without gaps.
    positions : tuple of Position
        Positions allowed at all, in listed order; always the centre. `up` needs its signature.
    position_words : tuple of PositionWords
        What families read about each of them.
    technique, when_it_fails, home_rules, afterwards : tuple of FamilyText
        The steps of a swallow, what to change when it fails, the rules at home, and what comes
        after the last piece; in order.
    course : Course
        Numbers of a course.
    steps : SteppingRules
        Rules for moving on the ladder.
    success : Success
        What counts as success.
    tiers : tuple of TierWords
        The three tiers of events, mildest first.
    emergency : tuple of EmergencyWords
        The site's own number and words, one for each language.
    clinic_line : ClinicLine
        How to reach the clinic, and that nobody is watching in the evening.
    tonight : tuple of TonightQuestion
        What is asked before an evening; the six standard ones and the site's own.
    gates : tuple of Gate
        The 54 standard gates and the site's own.
    gates_off : tuple of GateOff
        Gates that the site does without.
    signatures : tuple of Signature
        Who signed this text.
    invented : bool
        True for a demonstration: everything printed under it says so.

    Raises
    ------
    Refused
        With every fault at once.
    """

    site: str
    site_name: str
    version: str
    valid_from: date
    time_zone: str
    languages: tuple[str, ...]
    ages: AgeLimits
    bands: tuple[Band, ...]
    positions: tuple[Position, ...]
    position_words: tuple[PositionWords, ...]
    technique: tuple[FamilyText, ...]
    when_it_fails: tuple[FamilyText, ...]
    home_rules: tuple[FamilyText, ...]
    afterwards: tuple[FamilyText, ...]
    course: Course
    steps: SteppingRules
    success: Success
    tiers: tuple[TierWords, ...]
    emergency: tuple[EmergencyWords, ...]
    clinic_line: ClinicLine
    tonight: tuple[TonightQuestion, ...]
    gates: tuple[Gate, ...]
    gates_off: tuple[GateOff, ...] = ()
    signatures: tuple[Signature, ...] = ()
    invented: bool = False

    def __post_init__(self) -> None:
        """Refuse a protocol with any fault, and name them all."""
        faults = [
            *_head_faults(self),
            *_band_faults(self.bands),
            *_position_faults(self),
            *_word_faults(self),
            *set_faults(self.gates),
            *off_faults(self.gates, self.gates_off, signed_by=self.valid_from),
            *_signature_faults(self),
        ]
        if faults:
            raise Refused(faults)

    @cached_property
    def fingerprint(self) -> str:
        """SHA-256 of all settings without the signatures, hexadecimal."""
        return fingerprint_of({each.name: getattr(self, each.name) for each in fields(self)})

    @property
    def is_approved(self) -> bool:
        """Whether somebody has signed this text as approved."""
        return any(each.meaning is Meaning.PROTOCOL_APPROVED for each in self.signatures)

    @property
    def numbers(self) -> dict[str, int]:
        """Numbers that family sentences may name in braces."""
        return {
            "minutes_trying": self.course.minutes_trying,
            "minutes_upright": self.course.minutes_upright,
            "tries": self.course.tries,
            "failed_positions": self.course.failed_positions_stop,
        }

    @property
    def active_gates(self) -> tuple[Gate, ...]:
        """The gates in use, by number."""
        off = {each.gate for each in self.gates_off}
        return tuple(
            sorted((gate for gate in self.gates if gate.key not in off), key=lambda g: g.number)
        )

    @property
    def questions(self) -> dict[str, str]:
        """What staff ask, by key: every gate but those that the age answers, and follow-ups."""
        asked = {}
        for gate in sorted(self.gates, key=lambda each: each.number):
            if gate.asked_by is AskedBy.STAFF:
                asked[gate.key] = gate.question
            if gate.follow_up is not None:
                asked[gate.follow_up.key] = gate.follow_up.question
        return asked

    def band_of(self, age_years: int) -> Band | None:
        """Find the band of an age; None outside all bands."""
        return next((band for band in self.bands if band.holds(age_years)), None)

    def words_of(self, position: Position) -> PositionWords:
        """Find what families read about a position."""
        return next(each for each in self.position_words if each.position is position)

    def emergency_in(self, language: str) -> EmergencyWords:
        """Find the emergency words of a language, or those of the site's first language."""
        by_language = {each.language: each for each in self.emergency}
        return by_language.get(language, by_language[self.languages[0]])


def fingerprint_of(content: Mapping[str, object]) -> str:
    """Fingerprint the settings of a protocol, whatever the layout of the file they stood in.

    Parameters
    ----------
    content : mapping of str to object
        Field names of :class:`Protocol` and their values; `signatures` is left out.

    Returns
    -------
    str
        SHA-256 of the canonical text, hexadecimal.
    """
    plain = {name: _plain(value) for name, value in content.items() if name != "signatures"}
    text = json.dumps(plain, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def _plain(value: object) -> object:
    """Turn a value into what JSON can hold, sets in a fixed order."""
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, frozenset):
        return sorted(str(_plain(each)) for each in value)
    if isinstance(value, tuple):
        return [_plain(each) for each in value]
    if is_dataclass(value):
        held = {each.name: getattr(value, each.name) for each in fields(value)}
        later = {each.name for each in fields(value) if each.metadata.get("later")}
        return {name: _plain(each) for name, each in held.items() if each or name not in later}
    return value


def _head_faults(protocol: Protocol) -> list[Problem]:
    faults = [
        _fault(name, "it is empty", "Fill it in.")
        for name in ("site", "version")
        if not str(getattr(protocol, name)).strip()
    ]
    try:
        ZoneInfo(protocol.time_zone)
    except (KeyError, ValueError, OSError):
        what = f'"{protocol.time_zone}" is not a time zone'
        faults.append(_fault("time_zone", what, "Use an IANA name such as Europe/Lisbon."))
    if not protocol.languages or len(set(protocol.languages)) != len(protocol.languages):
        what = "there is none, or one stands twice"
        faults.append(_fault("languages", what, "Name each language once, the default first."))
    return faults


def _band_faults(bands: tuple[Band, ...]) -> list[Problem]:
    if not bands:
        return [_fault("bands", "there are none", "Give at least one age band.")]
    faults = []
    if len({band.name for band in bands}) != len(bands):
        faults.append(_fault("bands", "a name stands twice", "Name each band once."))
    for number, (younger, older) in enumerate(pairwise(bands), start=2):
        if older.from_age != younger.to_age + 1:
            what = (
                f"{older.name} begins at {older.from_age}, {younger.name} ends at {younger.to_age}"
            )
            remedy = "Let each band begin the year after the one before it."
            faults.append(_fault(f"bands[{number}]", what, remedy))
    return faults


def _position_faults(protocol: Protocol) -> list[Problem]:
    faults = []
    allowed = protocol.positions
    if allowed != in_listed_order(set(allowed)) or Position.CENTRE not in allowed:
        what = f"{', '.join(allowed) or 'nothing'} is not a set of positions"
        remedy = "List them once each, in the order down, left, centre, right, up, with the centre."
        faults.append(_fault("positions", what, remedy))
    worded = [each.position for each in protocol.position_words]
    lacking = [each.value for each in allowed if worded.count(each) != 1]
    if lacking:
        what = f"families need one description of: {', '.join(lacking)}"
        faults.append(_fault("position_words", what, "Give one entry a position."))
    signed_for_up = any(
        each.meaning is Meaning.UP_ALLOWED and each.role.casefold() == SWALLOWING_SPECIALIST
        for each in protocol.signatures
    )
    if Position.UP in allowed and not signed_for_up:
        what = "`up` is listed and no swallowing specialist has signed for it"
        remedy = (
            "Take it out, or have a swallowing specialist sign `up allowed` under the text with "
            f"fingerprint {protocol.fingerprint}."
        )
        faults.append(_fault("positions", what, remedy))
    return faults


def _word_faults(protocol: Protocol) -> list[Problem]:
    faults = [
        _fault(name, "there is no sentence", "Give at least one.")
        for name in ("technique", "when_it_fails", "home_rules", "afterwards")
        if not getattr(protocol, name)
    ]
    if tuple(each.tier for each in protocol.tiers) != tuple(Tier):
        what = "the three tiers are not all there, mildest first"
        faults.append(_fault("tiers", what, f"Give {', '.join(Tier)}, each once."))
    spoken = [each.language for each in protocol.emergency]
    lacking = [tag for tag in protocol.languages if spoken.count(tag) != 1]
    if lacking:
        what = f"emergency words are missing, or doubled, in: {', '.join(lacking)}"
        faults.append(_fault("emergency", what, "Give one entry a language, as your site teaches."))
    if protocol.is_approved:
        faults += _unfinished(protocol)
    asked = [each.key for each in protocol.tonight]
    missing = [key.value for key in Tonight if asked.count(key.value) != 1]
    if missing:
        what = f"questions before an evening are missing, or doubled: {', '.join(missing)}"
        faults.append(_fault("tonight", what, "Ask each of the six once."))
    return faults


def _unfinished(protocol: Protocol) -> list[Problem]:
    """List what a draft may leave open and a signed protocol may not."""
    faults = []
    if not protocol.site_name.strip():
        faults.append(_fault("site_name", "it is empty", "Give the name that pages print."))
    if not protocol.clinic_line.is_complete:
        what = "phone or hours are missing"
        faults.append(_fault("clinic_line", what, "Say how and when the clinic is reached."))
    for number, each in enumerate(protocol.emergency, start=1):
        if not each.is_complete:
            what = f"number or words are missing in {each.language}"
            remedy = "Fill in the number and the words that your site teaches."
            faults.append(_fault(f"emergency[{number}]", what, remedy))
    return faults


def _signature_faults(protocol: Protocol) -> list[Problem]:
    faults = []
    fingerprint = protocol.fingerprint
    for number, each in enumerate(protocol.signatures, start=1):
        if each.fingerprint != fingerprint:
            what = f"the {each.role} signed another text, {each.fingerprint[:12]}..."
            remedy = f"Have this text signed, fingerprint {fingerprint}, or take the signature out."
            faults.append(_fault(f"signatures[{number}].fingerprint", what, remedy))
    return faults


def _fault(where: str, what: str, remedy: str) -> Problem:
    return Problem(where, what, remedy, "protocol")
