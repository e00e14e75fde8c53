"""From an estimate and the nights behind it to the report for the follow-up visit.

Order of the report: the verdict; the chance of going down first try, before the chance of being
the best; the positions over the nights; the first night against the end; what would have been
said on the way; the nights and how they were written; events; what to do next; the exact figures;
the place for the clinician; cautions.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from sidelong.paper.language import Language
from sidelong.paper.report import Report, Section, Signature
from sidelong.pathway.report_answer import NextStep, compose_answer, compose_next_steps
from sidelong.pathway.report_figures import (
    compose_chances,
    compose_change,
    compose_earlier,
    compose_exact,
    compose_trend,
    compose_trend_section,
)
from sidelong.pathway.report_flags import compose_events
from sidelong.pathway.report_nights import compose_strip
from sidelong.pathway.report_outlook import compose_further, compose_outlook
from sidelong.pathway.report_up import practised_words, suggested_words
from sidelong.training.entry import Entry
from sidelong.training.estimate import Estimate
from sidelong.training.event import Event, barred_positions
from sidelong.training.gate_rules import SignOff
from sidelong.training.plan import Plan
from sidelong.training.position import Position
from sidelong.training.protocol import Protocol


def compose_report(
    estimate: Estimate,
    entries: Sequence[Entry],
    *,
    language: Language,
    today: date,
    program: str,
    plan: Plan | None = None,
    protocol: Protocol | None = None,
    events: Sequence[Event] = (),
    advice: NextStep | None = None,
    up_sign_off: SignOff | None = None,
    seen_floating: bool = False,
    invented: bool = False,
) -> Report:
    """Compose one trainee's report.

    Parameters
    ----------
    estimate : Estimate
        What the nights say.
    entries : sequence of Entry
        The nights of this trainee and course, in any order; none at all is possible.
    language : Language
        Where every sentence comes from.
    today : date
        Day of the report.
    program : str
        How the figures were made: version, seed, name of the hyperparameter set.
    plan : Plan or None
        The latest version of the plan; None where it is not at hand.
    protocol : Protocol or None
        The site's protocol; None by command.
    events : sequence of Event
        Events of this trainee. The position of a safety event is never suggested, and one whose
        position nobody knows closes all.
    advice : NextStep or None
        What the site's written rules say about the next piece.
    up_sign_off : SignOff or None
        Who signed that ``up`` may be suggested to this person; None where only a statement is
        known, as by command.
    seen_floating : bool
        Whether staff saw this trainee swallow a floating piece.
    invented : bool
        Whether the nights were invented for a demonstration; a protocol that is says so too.

    Returns
    -------
    Report
        Ready for :func:`sidelong.paper.report.set_report`.

    Raises
    ------
    ValueError
        If entries, events or plan belong to somebody else or to several courses, or if the
        estimate suggests a position with a safety event.
    """
    _refuse_mixture(estimate, entries, plan, events)
    estimate = _without_barred(estimate, events)
    in_order = sorted(entries, key=lambda entry: entry.night)
    nights_section, strip = compose_strip(estimate, in_order, language)
    is_locked = any(event.locks_practice for event in events)
    is_invented = invented or (protocol is not None and protocol.invented)
    return Report(
        trainee=estimate.trainee,
        made_on=today,
        title=language.say("What the evenings showed"),
        subtitle=_subtitle(language, is_invented=is_invented),
        facts=_facts(estimate, in_order, plan, language, today),
        answer=compose_answer(estimate, language, is_locked=is_locked, up_sign_off=up_sign_off),
        chances=compose_chances(estimate, language),
        trend_section=compose_trend_section(estimate, in_order, language),
        trend=compose_trend(estimate, in_order, language),
        change=compose_change(estimate, in_order, language),
        earlier=compose_earlier(estimate, language),
        outlook=compose_outlook(estimate, language),
        # While practice is locked nobody is told what more of it might bring.
        further=None if is_locked else compose_further(estimate, language),
        nights_section=nights_section,
        strip=strip,
        events=compose_events(estimate, in_order, language, plan=plan, events=events),
        next_steps=compose_next_steps(
            estimate,
            language,
            seen_floating=seen_floating,
            is_locked=is_locked,
            advice=advice,
            success=None if protocol is None else protocol.success,
        ),
        exact=compose_exact(estimate, language),
        signature=_signature(language),
        cautions=_cautions(estimate, protocol, up_sign_off, language),
        made=_made(plan, protocol, program, language),
        page_of=language.say("Page {page} of {pages}"),
    )


def _refuse_mixture(
    estimate: Estimate, entries: Sequence[Entry], plan: Plan | None, events: Sequence[Event]
) -> None:
    codes = {estimate.trainee, *(each.trainee for each in entries), *(e.trainee for e in events)}
    if plan is not None:
        codes.add(plan.trainee)
    if len(codes) > 1:
        raise ValueError("estimate, entries, events and plan must belong to one trainee")
    courses = {entry.course for entry in entries} | ({plan.course} if plan is not None else set())
    if len(courses) > 1:
        raise ValueError("a report is about one course")


def _without_barred(estimate: Estimate, events: Sequence[Event]) -> Estimate:
    """Close every position with a safety event; an estimate that suggests one is refused."""
    barred = barred_positions(events).get(estimate.trainee, frozenset())
    positions = tuple(
        replace(each, may_recommend=each.may_recommend and each.position not in barred)
        for each in estimate.positions
    )
    if positions == estimate.positions:
        return estimate
    # What was compared with a position that is closed since is not compared anew here.
    return replace(estimate, positions=positions, p_better=(), own_share=None, further=None)


def _subtitle(language: Language, *, is_invented: bool) -> str:
    if is_invented:
        return language.say("Invented example: no real person")
    return language.say("For the follow-up visit")


def _facts(
    estimate: Estimate,
    entries: Sequence[Entry],
    plan: Plan | None,
    language: Language,
    today: date,
) -> tuple[tuple[str, str], ...]:
    nights = language.say("{used} of {planned}").format(
        used=estimate.nights_used, planned=estimate.nights_planned
    )
    facts = [
        (language.say("Code"), language.number(estimate.trainee)),
        (language.say("Nights"), nights),
        (language.say("Made on"), language.day(today)),
    ]
    sizes = [row.piece_mm for entry in entries for row in entry.rows if row.piece_mm is not None]
    if not sizes and plan is not None:
        sizes = [night.piece_mm for night in plan.nights]
    if sizes:
        facts.insert(2, (language.say("Pieces"), _sizes(min(sizes), max(sizes), language)))
    course = plan.course if plan is not None else next((e.course for e in entries), 1)
    if course > 1:
        facts.append((language.say("Course"), str(course)))
    return tuple(facts)


def _sizes(smallest: float, largest: float, language: Language) -> str:
    if smallest == largest:
        return _millimetres(smallest, language)
    said = language.say("{smallest} to {largest}")
    return said.format(
        smallest=_millimetres(smallest, language), largest=_millimetres(largest, language)
    )


def _millimetres(size: float, language: Language) -> str:
    return language.number(language.say("{size}\u00a0mm").format(size=f"{size:g}"))


def _signature(language: Language) -> Signature:
    return Signature(
        heading=language.say("Decided at the visit"),
        sentences=(language.say("Nothing is decided until a named clinician has signed here."),),
        choices=(
            language.say("practise on, same plan"),
            language.say("practise on, new plan"),
            language.say("medicine step, with the pharmacist"),
            language.say("see a clinician first"),
            language.say("something else"),
        ),
        lines=(
            language.say("Position and reason"),
            language.say("Name"),
            language.say("Role"),
            language.say("Date"),
            language.say("Signature"),
        ),
    )


def _cautions(
    estimate: Estimate, protocol: Protocol | None, up_sign_off: SignOff | None, language: Language
) -> Section:
    n = len(estimate.positions)
    sentences = [
        language.say(
            "This report clears nobody. It sums up answers; local rules and a licensed clinician "
            "come first."
        ),
        language.say(
            "Practise with an adult within reach, upright and awake, one piece at a time. Stop at "
            "coughing, choking, pain, vomiting, trouble breathing or a piece that feels stuck, and "
            "act as you were taught."
        ),
    ]
    if n > 1:
        said = language.count(
            "Of {n} position one always comes out on top, even when all are equally good.",
            "Of {n} positions one always comes out on top, even when all are equally good.",
            n,
        )
        sentences.append(said.format(n=n))
    if any(each.position is Position.UP for each in estimate.positions):
        sentences.append(
            language.say(
                "Lifting the head made the upper gullet open for a shorter time in small studies "
                "of healthy adults. It is a slight lift only, and needs its own sign-off."
            )
        )
        signed = practised_words(estimate, protocol, language)
        sentences.append(" ".join([*signed, *suggested_words(estimate, up_sign_off, language)]))
    sentences.append(
        language.say(
            "Left and right are the own left and right of the person who practises. Turns stay "
            "comfortable."
        )
    )
    return Section(language.say("Cautions"), tuple(sentences))


def _made(plan: Plan | None, protocol: Protocol | None, program: str, language: Language) -> str:
    parts = [language.say("Made by {program}.").format(program=program)]
    if plan is not None:
        said = language.say("Plan version {version}.")
        parts.append(said.format(version=plan.version))
    if protocol is not None:
        said = language.say("Protocol {version}, fingerprint {fingerprint}.")
        shown = language.number(protocol.fingerprint[:12])
        parts.append(said.format(version=language.number(protocol.version), fingerprint=shown))
    elif plan is not None and plan.protocol_version:
        said = language.say("Protocol {version}.")
        parts.append(said.format(version=language.number(plan.protocol_version)))
    return " ".join(parts)
