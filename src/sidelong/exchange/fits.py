"""Stored fits: the hyperparameters that estimates rest on, as a JSON document.

A fit says which program made it, when, and from which answers (by fingerprint), so that a report
can say what its figures rest on, and an estimate that was locked can be made again. Trainees who
withdraw change the fingerprint; the site's rule says when the fit is then made anew.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from sidelong.exchange.files import write_text
from sidelong.preferences import DEFAULT, HyperparameterMixture, Hyperparameters
from sidelong.problems import Problem, Refused

FORMAT = "sidelong fit 2"
FORMATS = (FORMAT, "sidelong fit 1")
"""Formats that can be read; the first one had no mixture and no fingerprint."""


@dataclass(frozen=True)
class StoredFit:
    """Hyperparameters and where they come from.

    Parameters
    ----------
    hyperparameters : Hyperparameters
        The most probable ones.
    origin : str
        One sentence for the report: made from what, when, by which version.
    mixture : HyperparameterMixture or None
        What the cohort leaves possible, if it is more than one point.
    fingerprint : str
        SHA-256 of the answers it was made from; empty for shipped values.
    n_trainees : int
        Trainees of the cohort; 0 for shipped values.
    program : str
        Version that made it; empty for shipped values.
    made_on : date or None
        When; None for shipped values.
    """

    hyperparameters: Hyperparameters
    origin: str
    mixture: HyperparameterMixture | None = None
    fingerprint: str = ""
    n_trainees: int = 0
    program: str = ""
    made_on: date | None = None

    @property
    def shared(self) -> Hyperparameters | HyperparameterMixture:
        """What estimates are to rest on: all that is left possible, else the one point."""
        return self.mixture or self.hyperparameters

    @property
    def is_own(self) -> bool:
        """Whether trainees stand behind it, and not assumptions alone."""
        return self.n_trainees > 0


_REMEDY = "Give a file that the program stored as a fit, unchanged."

SHIPPED_FIT = StoredFit(DEFAULT, "the values shipped with the program, which are assumptions")


def read_fit(path: Path) -> StoredFit:
    """Read a stored fit.

    Parameters
    ----------
    path : Path
        JSON document, as :func:`write_fit` makes it.

    Returns
    -------
    StoredFit
        Ready to use.

    Raises
    ------
    Refused
        If the file is no such document, with what is wrong in it.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise Refused([Problem(path.name, "it is no text in UTF-8", _REMEDY, "fit")]) from error
    return parse_fit(text, where=path.name)


def parse_fit(text: str, *, where: str) -> StoredFit:
    """Read the text of a stored fit.

    Parameters
    ----------
    text : str
        As :func:`format_fit` makes it.
    where : str
        What it is called in a message.

    Returns
    -------
    StoredFit
        Ready to use.

    Raises
    ------
    Refused
        If the text is no such document, with what is wrong in it.
    """
    try:
        document = json.loads(text, parse_constant=_refuse_constant)
    except ValueError as error:
        raise Refused([Problem(where, "it is not a JSON document", _REMEDY, "fit")]) from error
    if not isinstance(document, dict) or document.get("format") not in FORMATS:
        raise Refused([Problem(where, f'it is not a "{FORMAT}"', _REMEDY, "fit")])
    try:
        return _from_document(document)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        what = f"its hyperparameters cannot be used ({error})"
        raise Refused([Problem(where, what, _REMEDY, "fit")]) from error


def write_fit(path: Path, fit: StoredFit) -> None:
    """Store a fit, whole or not at all."""
    write_text(path, format_fit(fit))


def format_fit(fit: StoredFit) -> str:
    """Write a fit as text: the same fit always gives the same text."""
    document: dict[str, Any] = {
        "format": FORMAT,
        "origin": fit.origin,
        "program": fit.program,
        "made_on": fit.made_on.isoformat() if fit.made_on else None,
        "fingerprint": fit.fingerprint,
        "n_trainees": fit.n_trainees,
        "hyperparameters": fit.hyperparameters.to_dict(),
        "mixture": None,
    }
    if fit.mixture:
        document["mixture"] = {
            "weights": list(fit.mixture.weights),
            "points": [point.to_dict() for point in fit.mixture.points],
        }
    return json.dumps(document, indent=2) + "\n"


def _refuse_constant(word: str) -> float:
    """Refuse what JSON itself does not have: an endless number or none at all."""
    raise ValueError(f"{word} is not a number")


def _from_document(document: Mapping[str, Any]) -> StoredFit:
    mixture, made_on = document.get("mixture"), document.get("made_on")
    return StoredFit(
        hyperparameters=Hyperparameters.from_dict(document["hyperparameters"]),
        origin=str(document["origin"]),
        mixture=_read_mixture(mixture) if mixture else None,
        fingerprint=str(document.get("fingerprint", "")),
        n_trainees=int(document.get("n_trainees", 0)),
        program=str(document.get("program", "")),
        made_on=date.fromisoformat(made_on) if made_on else None,
    )


def _read_mixture(mixture: Mapping[str, Any]) -> HyperparameterMixture:
    return HyperparameterMixture(
        tuple(Hyperparameters.from_dict(point) for point in mixture["points"]),
        tuple(float(weight) for weight in mixture["weights"]),
    )
