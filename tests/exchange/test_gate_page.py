"""The page that lists the gates says what the shipped protocol says."""

from pathlib import Path

from sidelong.exchange.protocols import read_default_protocol
from sidelong.training.gates import AskedBy, Gate, Stop
from sidelong.training.position import Position, in_listed_order

PAGE = Path(__file__).parents[2] / "docs" / "method" / "readiness.md"
STOPS = {
    Stop.EVERYTHING: "**not now**",
    Stop.HARD_SUGAR: "**not now** for hard sugar pieces",
    Stop.HOME_PRACTICE: "**not now** at home",
}


def effect_words(gate: Gate) -> str:
    parts = []
    if gate.stop is not Stop.NOTHING:
        until = f" until: {gate.until}" if gate.until else ""
        parts.append(STOPS[gate.stop] + until + (", refer" if gate.refer else ""))
    if gate.decide:
        who = gate.decide_by or "a clinician"
        then = "then " if gate.decides_after_stop else ""
        parts.append(
            f"{then}**{who} decides**" if not gate.decide_by else f"{then}**decision** of {who}"
        )
    every = frozenset(Position) - {Position.CENTRE}
    for word, positions in (("removed", gate.removes), ("held", gate.holds)):
        if positions:
            named = (
                "all but centre" if positions == every else ", ".join(in_listed_order(positions))
            )
            parts.append(f"{word}: {named}")
    limits = ", ".join(f"`{each}`" for each in sorted(gate.limits))
    held = ", ".join(f"`{each}`" for each in sorted(gate.held_limits))
    changes = ", ".join(f"`{each}`" for each in sorted(gate.changes))
    parts += [f"pieces: {limits}"] if limits else []
    parts += [f"held: {held}"] if held else []
    parts += [f"plan: {changes}"] if changes else []
    if gate.either:
        parts.append("one side may be chosen")
    return "; ".join(parts)


def gate_row(gate: Gate) -> str:
    asked = " *(answered by the age)*" if gate.asked_by is AskedBy.AGE else ""
    if gate.from_age:
        asked += f" *(from {gate.from_age} years)*"
    if gate.follow_up is not None:
        decides = {"not_now": "not now", "clinician": "the decision"}[gate.follow_up.decides]
        asked += (
            f" *If yes:* {gate.follow_up.question} (`{gate.follow_up.key}`; switches {decides})"
        )
    cells = (
        str(gate.number),
        f"`{gate.key}`",
        gate.question + asked,
        gate.why,
        effect_words(gate),
        gate.source,
        gate.status.value,
    )
    return f"| {' | '.join(cells)} |"


def test_page_lists_every_gate_as_it_stands_in_the_protocol() -> None:
    lines = PAGE.read_text(encoding="utf-8").splitlines()
    listed = [line for line in lines if line.startswith("| ") and line[2].isdigit()]

    assert listed == [gate_row(gate) for gate in read_default_protocol().gates]


def test_page_gives_the_support_of_every_gate_that_has_one() -> None:
    text = PAGE.read_text(encoding="utf-8")

    for gate in read_default_protocol().gates:
        if gate.support:
            assert gate.support in text, gate.key
