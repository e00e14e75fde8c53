"""The sections of a printed protocol: ages, positions, what families are told, numbers, signatures.

Each section is a heading with sentences, numbered steps or a table; the questions have a form of
their own in :mod:`sidelong.paper.protocol_print`.
"""

from dataclasses import dataclass

from sidelong.paper.heads import HEAD_WORDS
from sidelong.paper.language import Language, message
from sidelong.training.entry import RatedBy
from sidelong.training.position import Position
from sidelong.training.protocol import Band, Meaning, Practised, Protocol
from sidelong.training.safety import Tier
from sidelong.training.wording import FamilyText

_MEANINGS = {
    Meaning.PROTOCOL_APPROVED: message("protocol approved"),
    Meaning.UP_ALLOWED: message("the position Up allowed"),
    Meaning.GATES_REVIEWED: message("questions reviewed"),
}
_TIERS = {
    Tier.PAUSE: message("Pause"),
    Tier.STOP_TONIGHT: message("Stop tonight"),
    Tier.ACT_FIRST: message("Act first"),
}


@dataclass(frozen=True)
class PrintedPosition:
    """One allowed position: its glyph, its name and how to hold the head."""

    position: Position
    name: str
    how: str


@dataclass(frozen=True)
class PrintedSection:
    """A heading with sentences, numbered steps, a table or positions under it.

    Parameters
    ----------
    heading : str
        What it is.
    sentences : tuple of str
        Read first.
    steps : tuple of str
        Set with numbers.
    columns, rows : tuple
        A table; no rows where there is none.
    positions : tuple of PrintedPosition
        Drawn heads with words.
    """

    heading: str
    sentences: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()
    columns: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    positions: tuple[PrintedPosition, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a row with too few or too many cells."""
        if any(len(row) != len(self.columns) for row in self.rows):
            raise ValueError(f"every row of {self.heading!r} needs {len(self.columns)} cells")


_SAID_TO = {
    "child": message("to children: {sentence}"),
    "teen": message("to teenagers: {sentence}"),
    "adult": message("to adults: {sentence}"),
}


class Speaker:
    """Says the protocol's own sentences in one language, numbers filled in."""

    def __init__(self, protocol: Protocol, language: Language) -> None:
        self.language = language
        self._numbers = protocol.numbers

    def __call__(self, text: FamilyText) -> str:
        """Say one, with the wordings that only some readers get."""
        said = self._to(text, "")
        others = [
            self.language.say(_SAID_TO[reader]).format(sentence=self._to(text, reader))
            for reader, _ in text.said_to
        ]
        return f"{said} ({'; '.join(others)})" if others else said

    def _to(self, text: FamilyText, reader: str) -> str:
        tag, say = self.language.tag, self.language.say
        return text.said(tag, say=say, numbers=self._numbers, to=reader)

    def all(self, texts: tuple[FamilyText, ...]) -> tuple[str, ...]:
        """Say several."""
        return tuple(self(text) for text in texts)


def age_section(protocol: Protocol, language: Language) -> PrintedSection:
    """Print the ages for hard sugar pieces and the age bands."""
    ages = protocol.ages
    sentences = (
        language.count(
            "Hard sugar pieces: not now below {n} year.",
            "Hard sugar pieces: not now below {n} years.",
            ages.not_now_below,
        ).format(n=ages.not_now_below),
        language.count(
            "Below {n} year a clinician decides first.",
            "Below {n} years a clinician decides first.",
            ages.clinician_below,
        ).format(n=ages.clinician_below),
    )
    columns = (
        language.say("Age band"),
        language.say("Years"),
        language.say("Answers offered"),
        language.say("Rated by"),
    )
    rows = tuple(_band_row(band, language) for band in protocol.bands)
    return PrintedSection(language.say("Ages"), (" ".join(sentences),), columns=columns, rows=rows)


def _band_row(band: Band, language: Language) -> tuple[str, ...]:
    years = language.say("{first} to {last}").format(first=band.from_age, last=band.to_age)
    rated_by = (
        language.say("the helper")
        if band.rated_by is RatedBy.SUPPORTER
        else language.say("the trainee")
    )
    return band.name, years, str(int(band.scale)), rated_by


def position_section(protocol: Protocol, speak: Speaker) -> PrintedSection:
    """Print the positions allowed at all, and what stands against `up`."""
    language = speak.language
    note = (
        language.say(
            "The position Up is allowed here under a swallowing specialist's signature. It is a "
            "slight lift, and is suggested only with a sign-off of its own."
        )
        if Position.UP in protocol.positions
        else language.say(
            "The position Up is in no plan until a named swallowing specialist has signed for it."
        )
    )
    positions = tuple(
        PrintedPosition(
            position,
            language.say(HEAD_WORDS[position].name),
            speak(protocol.words_of(position).how),
        )
        for position in protocol.positions
    )
    return PrintedSection(language.say("Positions allowed at all"), (note,), positions=positions)


def off_sections(protocol: Protocol, language: Language) -> tuple[PrintedSection, ...]:
    """Print the questions that the site does without; no section where there are none."""
    if not protocol.gates_off:
        return ()
    questions = {gate.key: gate for gate in protocol.gates}
    rows = tuple(
        (
            str(questions[off.gate].number),
            questions[off.gate].question,
            off.reason,
            "; ".join(f"{s.name}, {s.role}, {language.day(s.signed_on)}" for s in off.sign_offs),
        )
        for off in protocol.gates_off
    )
    columns = (
        language.say("No."),
        language.say("Question"),
        language.say("Reason"),
        language.say("Signed off by"),
    )
    section = PrintedSection(
        language.say("Questions that this site does without"), columns=columns, rows=rows
    )
    return (section,)


def home_sections(protocol: Protocol, speak: Speaker) -> tuple[PrintedSection, ...]:
    """Print everything that families are told."""
    language = speak.language
    questions = tuple(
        (
            speak(each.question),
            language.say("yes") if each.yes_stops else language.say("no"),
        )
        for each in protocol.tonight
    )
    tiers = tuple(
        (
            language.say(_TIERS[each.tier]),
            "; ".join(speak.all(each.signs)),
            " ".join(speak.all(each.actions)),
        )
        for each in protocol.tiers
    )
    return (
        PrintedSection(language.say("How to swallow a piece"), steps=speak.all(protocol.technique)),
        PrintedSection(
            language.say("When a piece does not go down"), steps=speak.all(protocol.when_it_fails)
        ),
        PrintedSection(language.say("Rules at home"), steps=speak.all(protocol.home_rules)),
        PrintedSection(language.say("After the last piece"), steps=speak.all(protocol.afterwards)),
        PrintedSection(
            language.say("Asked before every evening"),
            columns=(language.say("Question"), language.say("Not tonight on")),
            rows=questions,
        ),
        PrintedSection(
            language.say("When something happens"),
            columns=(
                language.say("Tier"),
                language.say("What is seen"),
                language.say("What to do"),
            ),
            rows=tiers,
        ),
        _emergency(protocol, speak),
    )


def _emergency(protocol: Protocol, speak: Speaker) -> PrintedSection:
    language = speak.language
    empty = language.say("not filled in yet")
    line = protocol.clinic_line
    hours = speak(line.hours) if line.hours is not None else empty
    rows = tuple(
        (each.language, language.number(each.number) or empty, each.words or empty)
        for each in protocol.emergency
    )
    reach = language.say("Clinic: {phone}. Hours: {hours}.").format(
        phone=language.number(line.phone) or empty, hours=hours.rstrip(".")
    )
    return PrintedSection(
        language.say("Emergency words and the clinic's line"),
        (reach, speak(line.unwatched)),
        columns=(
            language.say("Language"),
            language.say("Number"),
            language.say("What the site teaches"),
        ),
        rows=rows,
    )


def number_sections(protocol: Protocol, language: Language) -> tuple[PrintedSection, ...]:
    """Print the numbers of a course, the ladder's rules and success."""
    return (
        PrintedSection(
            language.say("The course"),
            columns=(language.say("Setting"), language.say("Value")),
            rows=_course_rows(protocol, language),
        ),
        PrintedSection(
            language.say("Steps of the ladder"),
            columns=(language.say("Rule"), language.say("Value")),
            rows=_step_rows(protocol, language),
        ),
        PrintedSection(language.say("Success"), _success(protocol, language)),
    )


def _course_rows(protocol: Protocol, language: Language) -> tuple[tuple[str, str], ...]:
    course = protocol.course
    practised = (
        language.say("one piece or more was tried")
        if course.practised is Practised.ANY
        else language.say("every position was tried")
    )
    return (
        (language.say("Nights"), str(course.nights)),
        (language.say("Spare pieces"), str(course.spares)),
        (language.say("Tries at a position, each with a fresh piece"), str(course.tries)),
        (
            language.say("Failed positions that end the evening"),
            str(course.failed_positions_stop),
        ),
        (language.say("Longest trying in one evening, minutes"), str(course.minutes_trying)),
        (language.say("Upright afterwards, minutes"), str(course.minutes_upright)),
        (language.say("A night counts as practised when"), practised),
        (
            language.say("Lost to follow-up after this many days without contact"),
            str(course.lost_after_days),
        ),
        (language.say("A clinician's decision holds for, days"), str(course.decision_days)),
    )


def _step_rows(protocol: Protocol, language: Language) -> tuple[tuple[str, str], ...]:
    steps = protocol.steps
    yes, no = language.say("yes"), language.say("no")
    return (
        (language.say("Easy nights in a row before a step up"), str(steps.up_after_easy_nights)),
        (language.say("Lowest rating that is easy"), str(steps.easy_rating)),
        (
            language.say("Share of a night's ratings that must be easy"),
            f"{steps.easy_share:g}",
        ),
        (
            language.say("Failed nights in a row before a step back"),
            str(steps.back_after_failed_nights),
        ),
        (
            language.say("Home may start above the first step"),
            yes if steps.start_higher else no,
        ),
        (
            language.say("Steps to start below the largest piece seen"),
            str(steps.start_below_seen),
        ),
        (language.say("A course may finish early"), yes if steps.finish_early else no),
        (
            language.say("Practised nights before an early finish"),
            str(steps.finish_after_nights),
        ),
        (
            language.say("Easy nights at the last step before an early finish"),
            str(steps.finish_easy_nights),
        ),
    )


def _success(protocol: Protocol, language: Language) -> tuple[str, ...]:
    success = protocol.success
    return (
        language.say(
            "Whole, not chewed, without help, at the target size, seen by staff. What is said from "
            "home is a report."
        ),
        language.say(
            "{swallows} of {attempts} tries, within {minutes} minutes, with {water} or less of "
            "water for each."
        ).format(
            swallows=success.swallows,
            attempts=success.attempts,
            minutes=success.within_minutes,
            water=language.number(f"{success.water_ml}\u00a0mL"),
        ),
    )


def signing_section(protocol: Protocol, language: Language) -> PrintedSection:
    """Print who has signed, and what a signature binds to."""
    sentences = (
        language.say(
            "Signatures bind to the fingerprint on page 1. Any change of the text asks for new "
            "ones. Ages and safety rules can be made stricter, never looser."
        ),
    )
    rows = tuple(
        (
            each.name,
            each.role,
            language.day(each.signed_on),
            language.say(_MEANINGS[each.meaning]),
        )
        for each in protocol.signatures
    )
    columns = (
        language.say("Name"),
        language.say("Role"),
        language.say("Date"),
        language.say("Meaning"),
    )
    return PrintedSection(language.say("Signatures"), sentences, columns=columns, rows=rows)
