"""What a site may do with its gates: add, tighten, and switch off with names and reasons."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from sidelong.problems import Problem, Refused
from sidelong.training.gates import N_STANDARD_GATES, AskedBy, Gate, Stop


@dataclass(frozen=True)
class SignOff:
    """A named person's dated agreement to one setting.

    Parameters
    ----------
    role, name : str
        Who agreed.
    signed_on : date
        When.

    Raises
    ------
    Refused
        If role or name is empty.
    """

    role: str
    name: str
    signed_on: date

    def __post_init__(self) -> None:
        """Refuse an agreement of nobody."""
        faults = [
            _fault(name, "it is empty", "Say who signed, and in which role.")
            for name in ("role", "name")
            if not str(getattr(self, name)).strip()
        ]
        if faults:
            raise Refused(faults)


@dataclass(frozen=True)
class GateOff:
    """A gate that a site does not use.

    Parameters
    ----------
    gate : str
        The gate's key.
    reason : str
        Why the site does without.
    sign_offs : tuple of SignOff
        Who agreed: two different people for a gate that can mean not now, else one.

    Raises
    ------
    Refused
        If there is no reason or no sign-off.
    """

    gate: str
    reason: str
    sign_offs: tuple[SignOff, ...]

    def __post_init__(self) -> None:
        """Refuse a gate that was switched off without a word."""
        faults = []
        if not self.reason.strip():
            faults.append(_fault("reason", "it is empty", "Say why the site does without."))
        if not self.sign_offs:
            faults.append(_fault("sign_offs", "nobody signed", "Give role, name and date."))
        if faults:
            raise Refused(faults)

    @property
    def n_people(self) -> int:
        """Different people who agreed; the same name in another role is one person."""
        return len({" ".join(each.name.split()).casefold() for each in self.sign_offs})


def off_faults(
    gates: Sequence[Gate], gates_off: Sequence[GateOff], *, signed_by: date
) -> tuple[Problem, ...]:
    """List what stands against switching these gates off.

    Parameters
    ----------
    gates : sequence of Gate
        All gates of the protocol.
    gates_off : sequence of GateOff
        Those switched off.
    signed_by : date
        Sign-offs must not be later than this.

    Returns
    -------
    tuple of Problem
        Empty when every switched-off gate is known, named once and signed by enough people.
    """
    by_key = {gate.key: gate for gate in gates}
    faults = []
    seen: set[str] = set()
    for number, off in enumerate(gates_off, start=1):
        where = f"gates_off[{number}]"
        gate = by_key.get(off.gate)
        if gate is None:
            faults.append(_fault(where, f'there is no gate "{off.gate}"', "Use a gate's key."))
            continue
        if off.gate in seen:
            faults.append(_fault(where, f"{off.gate} stands here twice", "Name it once."))
        seen.add(off.gate)
        if gate.asked_by is AskedBy.AGE:
            what = f"{off.gate} keeps hard pieces from young children"
            remedy = "Leave it in use: a site may raise these ages and not lower them."
            faults.append(_fault(where, what, remedy))
        needed = 2 if gate.stop is not Stop.NOTHING else 1
        if off.n_people < needed:
            what = f"{off.gate} can mean not now, and {off.n_people} person has signed it off"
            remedy = "It takes two different people, by name, and a reason."
            faults.append(_fault(where, what, remedy))
        if any(each.signed_on > signed_by for each in off.sign_offs):
            what = f"{off.gate} is signed off after the protocol's first day"
            faults.append(_fault(where, what, "Sign first, then use."))
    return tuple(faults)


def set_faults(gates: Sequence[Gate]) -> tuple[Problem, ...]:
    """List what is wrong with a set of gates as a whole.

    Parameters
    ----------
    gates : sequence of Gate
        All gates of the protocol.

    Returns
    -------
    tuple of Problem
        Missing standard gates, and numbers or keys used twice.
    """
    faults = []
    missing = sorted(set(range(1, N_STANDARD_GATES + 1)) - {gate.number for gate in gates})
    if missing:
        what = f"standard gates are missing: {', '.join(map(str, missing))}"
        remedy = "Put them back; a gate is switched off under gates_off, signed and with a reason."
        faults.append(_fault("gates", what, remedy))
    numbers = [str(gate.number) for gate in gates]
    keys = [gate.key for gate in gates]
    keys += [gate.follow_up.key for gate in gates if gate.follow_up is not None]
    for name, used in (("number", numbers), ("key", keys)):
        for twice in sorted({each for each in used if used.count(each) > 1}):
            faults.append(_fault("gates", f"{name} {twice} is used twice", "Use each once."))
    return tuple(faults)


def weakened(gates: Iterable[Gate], standard: Iterable[Gate]) -> tuple[Problem, ...]:
    """Compare a site's gates with the standard ones; a site may only make them stricter.

    Parameters
    ----------
    gates : iterable of Gate
        The site's gates.
    standard : iterable of Gate
        The gates that ship with the program.

    Returns
    -------
    tuple of Problem
        One per standard gate that lost an effect: that is switching off by another name.
    """
    by_number = {gate.number: gate for gate in gates}
    faults = []
    for model in standard:
        gate = by_number.get(model.number)
        if gate is None:
            continue
        if gate.key != model.key:
            what = f'it is called "{gate.key}" and not "{model.key}"'
            faults.append(_fault(f"gate {model.number}", what, "Keep the standard key."))
        lost = _lost_effects(gate, model)
        if lost:
            what = f"{model.key} is weaker than the standard: {', '.join(lost)}"
            remedy = (
                "Put it back, or switch the gate off under gates_off, signed and with a reason."
            )
            faults.append(_fault(f"gate {model.number}", what, remedy))
    return tuple(faults)


def _lost_effects(gate: Gate, model: Gate) -> list[str]:
    """Name what the standard gate does and this one does not."""
    lost = []
    if model.stop is not Stop.NOTHING and gate.stop not in {model.stop, Stop.EVERYTHING}:
        lost.append("not now")
    if model.decide and not gate.decide and gate.stop is not Stop.EVERYTHING:
        lost.append("a clinician decides")
    if model.refer and not gate.refer:
        lost.append("referral")
    if not model.decide and gate.decide and model.stop is not Stop.NOTHING:
        lost.append("a stop that no decision lifts")
    if not model.removes <= gate.removes or not model.holds <= gate.removes | gate.holds:
        lost.append("positions removed")
    if not model.limits <= gate.limits or not model.held_limits <= gate.limits | gate.held_limits:
        lost.append("ingredients limited")
    if not model.changes <= gate.changes:
        lost.append("plan changed")
    if gate.either and not model.either:
        lost.append("effects that hold together")
    if gate.follow_up is not None and model.follow_up is None:
        lost.append("effects that need no second question")
    if gate.from_age > model.from_age:
        lost.append(f"asked from {model.from_age} years")
    if gate.asked_by is not model.asked_by:
        lost.append(f"answered by {model.asked_by.value}")
    return lost


def _fault(where: str, what: str, remedy: str) -> Problem:
    return Problem(where, what, remedy, "gates")
