"""What a gate does, in words for staff: one line for each effect, gravest first."""

from collections.abc import Iterable

from sidelong.paper.heads import HEAD_WORDS
from sidelong.paper.language import Language, message
from sidelong.training.gates import AskedBy, Evidence, FollowUpDecides, Gate, PlanChange, Stop
from sidelong.training.piece import IngredientLimit
from sidelong.training.position import Position, in_listed_order

_STOPS = {
    Stop.EVERYTHING: message("Not now"),
    Stop.HARD_SUGAR: message("Not now for hard sugar pieces"),
    Stop.HOME_PRACTICE: message("Not now at home; in the clinic only"),
}
LIMIT_WORDS = {
    IngredientLimit.NO_SUGAR: message("no sugar"),
    IngredientLimit.NO_SUCROSE: message("no sucrose"),
    IngredientLimit.NO_FRUCTOSE: message("no fructose"),
    IngredientLimit.NO_SORBITOL: message("no sorbitol"),
    IngredientLimit.NO_SUGAR_ALCOHOL: message("no sugar alcohol"),
    IngredientLimit.LIMIT_SUGAR_ALCOHOL: message("little sugar alcohol, counted"),
    IngredientLimit.NO_ASPARTAME: message("no aspartame"),
    IngredientLimit.NO_LACTOSE: message("no lactose"),
    IngredientLimit.GLUTEN_FREE: message("gluten-free"),
    IngredientLimit.NO_GELATIN: message("no gelatin"),
    IngredientLimit.NO_INSECT_COLOUR: message("no colour from insects"),
    IngredientLimit.MUST_DISSOLVE: message("must dissolve"),
    IngredientLimit.CHECK_EVERY_BATCH: message("label of every batch checked"),
    IngredientLimit.NOT_HARD_SUGAR: message("no hard sugar piece"),
}
CHANGE_WORDS = {
    PlanChange.SMALLER_STEPS: message("smaller steps"),
    PlanChange.LONGER_COURSE: message("a longer course"),
    PlanChange.CLINIC_ONLY: message("in the clinic only"),
    PlanChange.MAX_PIECE_SIZE: message("a largest piece size"),
    PlanChange.WATER_ALLOWANCE: message("a daily allowance of water"),
    PlanChange.TWO_HOURS_AFTER_MEAL: message("two hours or more after a meal"),
    PlanChange.BEFORE_BRUSHING: message("before brushing teeth"),
    PlanChange.MOISTEN_FIRST: message("moisten the mouth first"),
    PlanChange.COUNT_CARBOHYDRATE: message("count the carbohydrate"),
    PlanChange.COMFORTABLE_RANGE: message("turn only as far as is comfortable"),
    PlanChange.SMALL_RANGE: message("turn only a little"),
    PlanChange.SPARE_SORE_TEETH: message("spare sore teeth"),
    PlanChange.WHEN_LEAST_SICK: message("at the time of day with the least sickness"),
}
_STATUS = {
    Evidence.READ: message("read"),
    Evidence.MEMORY: message("from memory"),
    Evidence.COMMON_PRACTICE: message("common practice"),
}


def effect_lines(gate: Gate, language: Language) -> tuple[str, ...]:
    """Say what a yes does.

    Parameters
    ----------
    gate : Gate
        One question.
    language : Language
        Where the words come from; what the site wrote itself is given as it stands.

    Returns
    -------
    tuple of str
        At least one line.
    """
    lines = [*_stop_lines(gate, language), *_decide_lines(gate, language)]
    if gate.removes:
        said = language.say("Positions out: {positions}")
        lines.append(said.format(positions=_positions(gate.removes, language)))
    if gate.holds:
        said = language.say("Positions out until a decision names them: {positions}")
        lines.append(said.format(positions=_positions(gate.holds, language)))
    if gate.limits:
        said = language.say("Pieces: {limits}")
        lines.append(said.format(limits=_limits(gate.limits, language)))
    if gate.held_limits:
        said = language.say("Pieces, until a decision lifts it: {limits}")
        lines.append(said.format(limits=_limits(gate.held_limits, language)))
    if gate.changes:
        changes = [language.say(CHANGE_WORDS[each]) for each in PlanChange if each in gate.changes]
        lines.append(language.say("Plan: {changes}").format(changes=_joined(changes, language)))
    if gate.either:
        lines.append(language.say("A decision may choose among these; until then all hold"))
    return tuple(lines)


def asked_lines(gate: Gate, language: Language) -> tuple[str, ...]:
    """Say whom a question is put to, and what is asked after a yes."""
    lines = []
    if gate.asked_by is AskedBy.AGE:
        lines.append(language.say("Answered by the age, not asked."))
    elif gate.from_age:
        said = language.count("Asked from {n} year.", "Asked from {n} years.", gate.from_age)
        lines.append(said.format(n=gate.from_age))
    if gate.follow_up is not None:
        sentence = (
            language.say("After a yes: {question} Only a second yes means not now.")
            if gate.follow_up.decides is FollowUpDecides.NOT_NOW
            else language.say("After a yes: {question} Only a second yes asks for a clinician.")
        )
        lines.append(sentence.format(question=gate.follow_up.question))
    return tuple(lines)


def evidence_line(gate: Gate, language: Language) -> str:
    """Say where a gate comes from, with what was read and the status."""
    status = language.say(_STATUS[gate.status])
    if gate.support.startswith(gate.source):
        said = language.say("Source: {support} Status: {status}.")
        return said.format(support=gate.support, status=status)
    said = language.say("Source: {source} ({status}).").format(source=gate.source, status=status)
    return f"{said} {gate.support}".strip()


def _stop_lines(gate: Gate, language: Language) -> list[str]:
    if gate.stop is Stop.NOTHING:
        return []
    line = language.say(_STOPS[gate.stop])
    if gate.until:
        line = language.say("{stop}, until {end}").format(stop=line, end=gate.until)
    return [line, *([language.say("Refer")] if gate.refer else [])]


def _decide_lines(gate: Gate, language: Language) -> list[str]:
    if not gate.decide:
        return []
    line = (
        language.say("Then a clinician decides")
        if gate.decides_after_stop
        else language.say("A clinician decides")
    )
    if gate.decide_by:
        line = language.say("{decision}: {who}").format(decision=line, who=gate.decide_by)
    return [line]


def _positions(positions: frozenset[Position], language: Language) -> str:
    names = [language.say(HEAD_WORDS[each].name) for each in in_listed_order(positions)]
    return _joined(names, language)


def _limits(limits: frozenset[IngredientLimit], language: Language) -> str:
    words = [language.say(LIMIT_WORDS[each]) for each in IngredientLimit if each in limits]
    return _joined(words, language)


def _joined(parts: Iterable[str], language: Language) -> str:
    joined = ""
    for part in parts:
        joined = language.say("{start}, {more}").format(start=joined, more=part) if joined else part
    return joined
