"""What must be known beside the figures: events, closed positions, and oddities of the record.

Nothing is filled in or taken out: each flag says what was found and where.
"""

from collections import Counter
from collections.abc import Sequence

from sidelong.paper.language import Language, message
from sidelong.paper.report import Section
from sidelong.pathway.report_nights import answered_nights, spans_of
from sidelong.pathway.report_words import listed, names_of, position_name
from sidelong.training.entry import Entry, RatedBy, WentDown, WhyNot
from sidelong.training.estimate import Estimate
from sidelong.training.event import Event
from sidelong.training.plan import Plan
from sidelong.training.position import Position, in_listed_order
from sidelong.training.safety import Tier

_WHY_NOT = {
    WhyNot.SPAT_OUT: message("spat out"),
    WhyNot.MELTED: message("chewed or melted"),
    WhyNot.REFUSED: message("refused"),
    WhyNot.NOT_TRIED: message("not tried"),
}
_TIERS = {
    Tier.PAUSE: message("a brief cough that cleared"),
    Tier.STOP_TONIGHT: message("an event that stopped the evening"),
    Tier.ACT_FIRST: message("an event that locks practice until a clinician answers"),
}


def compose_events(
    estimate: Estimate,
    entries: Sequence[Entry],
    language: Language,
    *,
    plan: Plan | None = None,
    events: Sequence[Event] = (),
) -> Section:
    """Say what must be known beside the figures: events, what is not suggested, and flags.

    Parameters
    ----------
    estimate : Estimate
        What is said of the trainee.
    entries : sequence of Entry
        The trainee's nights.
    language : Language
        Where the sentences come from.
    plan : Plan or None
        The order that was set; None where it is not at hand.
    events : sequence of Event
        Events on the clinic's record.

    Returns
    -------
    Section
        A sentence for each thing that happened; never empty.
    """
    sentences = [*_event_words(estimate, events, language), *_blocked_words(estimate, language)]
    for find in (_failed_words, _odd_favourite_words, _no_favourite_words, _stopped_words):
        sentences += find(entries, language)
    sentences += _rated_by_words(entries, language)
    if plan is not None:
        sentences += _plan_words(entries, plan, language)
    return Section(language.say("Events and flags"), tuple(sentences))


def _event_words(estimate: Estimate, events: Sequence[Event], language: Language) -> list[str]:
    closed = any(not e.may_recommend and e.position is not Position.UP for e in estimate.positions)
    if not events and closed:
        return []
    if not events:
        return [
            language.say(
                "No event is known to this report. That is not the same as none: ask, and look "
                "in the clinic's record."
            )
        ]
    sentences = []
    for event in sorted(events, key=lambda one: one.night):
        what = language.say(_TIERS[event.tier])
        if event.position is None:
            said = language.say("Night {night}: {event}.").format(night=event.night, event=what)
        else:
            said = language.say("Night {night}, {position}: {event}.").format(
                night=event.night, position=position_name(event.position, language), event=what
            )
        sentences.append(said)
    return sentences


def _blocked_words(estimate: Estimate, language: Language) -> list[str]:
    blocked = [each.position for each in estimate.positions if not each.may_recommend]
    sentences = []
    others = [position for position in blocked if position is not Position.UP]
    if others:
        said = language.say("Not suggested because of a safety event: {positions}.")
        sentences.append(said.format(positions=names_of(others, language)))
    if Position.UP in blocked:
        said = language.say(
            "Not suggested: {position}. It needs its own sign-off by a swallowing specialist, and "
            "a safety event rules it out."
        )
        sentences.append(said.format(position=position_name(Position.UP, language)))
    return sentences


def _failed_words(entries: Sequence[Entry], language: Language) -> list[str]:
    failed = [row for entry in entries for row in entry.rows if row.went_down is WentDown.NO]
    if not failed:
        return []
    n_tried = sum(row.went_down is not None for entry in entries for row in entry.rows)
    said = language.count(
        "{n} of {tried} pieces did not go down.",
        "{n} of {tried} pieces did not go down.",
        len(failed),
    ).format(n=len(failed), tried=n_tried)
    counted = Counter(row.why_not for row in failed)
    parts = [
        language.say("{reason} {n}").format(reason=language.say(words), n=counted[why])
        for why, words in _WHY_NOT.items()
        if counted[why]
    ]
    if not parts:
        return [said]
    why = language.say("Why not: {parts}.").format(parts=listed(parts, language))
    return [f"{said} {why}"]


def _odd_favourite_words(entries: Sequence[Entry], language: Language) -> list[str]:
    nights = [
        entry.night
        for entry in entries
        for row in entry.rows
        if row.position is entry.felt_best and row.went_down is WentDown.NO
    ]
    if not nights:
        return []
    said = language.count(
        "The one that felt best did not go down on night {nights}; kept as it was written.",
        "The one that felt best did not go down on nights {nights}; kept as it was written.",
        len(nights),
    )
    return [said.format(nights=spans_of(nights, language))]


def _no_favourite_words(entries: Sequence[Entry], language: Language) -> list[str]:
    answered = answered_nights(entries).values()
    same = sum(entry.all_the_same for entry in answered)
    blank = sum(
        entry.felt_best is None and not entry.all_the_same and len(entry.rows) > 1
        for entry in answered
    )
    parts = []
    if same:
        said = language.count(
            'On {n} night the answer was "all the same".',
            'On {n} nights the answer was "all the same".',
            same,
        )
        parts.append(said.format(n=same))
    if blank:
        said = language.count(
            "On {n} night no favourite was named.", "On {n} nights no favourite was named.", blank
        )
        parts.append(said.format(n=blank))
    return [" ".join(parts)] if parts else []


def _stopped_words(entries: Sequence[Entry], language: Language) -> list[str]:
    two = [
        entry.night
        for entry in entries
        if sum(row.went_down is WentDown.NO for row in entry.rows) >= 2
    ]
    if not two:
        return []
    said = language.count(
        "Two or more pieces did not go down on night {nights}.",
        "Two or more pieces did not go down on nights {nights}.",
        len(two),
    )
    return [said.format(nights=spans_of(two, language))]


def _rated_by_words(entries: Sequence[Entry], language: Language) -> list[str]:
    by = Counter(row.rated_by for entry in entries for row in entry.rows if row.rating is not None)
    if not by[RatedBy.SUPPORTER]:
        return []
    n_told = sum(by.values())
    said = language.count(
        "{n} of {told} ratings were given by the helper.",
        "{n} of {told} ratings were given by the helper.",
        by[RatedBy.SUPPORTER],
    )
    return [said.format(n=by[RatedBy.SUPPORTER], told=n_told)]


def _plan_words(entries: Sequence[Entry], plan: Plan, language: Language) -> list[str]:
    """Compare with the order that was set, and tell changes of plan."""
    sentences = []
    other_order = [
        entry.night
        for entry in entries
        if entry.version == plan.version
        and entry.night <= len(plan.nights)
        and [row.position for row in entry.rows]
        != [p for p in plan.nights[entry.night - 1].order if p in {r.position for r in entry.rows}]
    ]
    if other_order:
        said = language.count(
            "The order differs from the plan on night {nights}.",
            "The order differs from the plan on nights {nights}.",
            len(other_order),
        )
        sentences.append(said.format(nights=spans_of(other_order, language)))
    used = {row.position for entry in entries for row in entry.rows}
    left_out = in_listed_order(used - set(plan.positions))
    if left_out:
        said = language.say("Practised at first and taken out of the plan since: {positions}.")
        sentences.append(said.format(positions=names_of(left_out, language)))
    if plan.version > 1 or len({entry.version for entry in entries}) > 1:
        said = language.say(
            "The plan was changed on the way: this is version {version}. Earlier nights are kept."
        )
        sentences.append(said.format(version=plan.version))
    return sentences
