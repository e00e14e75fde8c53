"""Stored fits: the hyperparameters that estimates rest on, as a JSON document.

A fit says which program made it, when, and from which entries (by fingerprint), so that a report
can say what its figures rest on.
"""

import json
from dataclasses import dataclass
from pathlib import Path

from sidelong.exchange.files import write_text
from sidelong.preferences import DEFAULT, Hyperparameters
from sidelong.problems import Problem, Refused

FORMAT = "sidelong fit 1"


@dataclass(frozen=True)
class StoredFit:
    """Hyperparameters and where they come from.

    Parameters
    ----------
    hyperparameters : Hyperparameters
        What all trainees share.
    origin : str
        One sentence for the report: made from what, when, by which version.
    """

    hyperparameters: Hyperparameters
    origin: str


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
    remedy = "Give a file that the program stored as a fit, unchanged."
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
    except (UnicodeDecodeError, json.JSONDecodeError) as error:
        raise Refused([Problem(path.name, "it is not a JSON document", remedy, "fit")]) from error
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise Refused([Problem(path.name, f'it is not a "{FORMAT}"', remedy, "fit")])
    try:
        hyperparameters = Hyperparameters.from_dict(document["hyperparameters"])
        return StoredFit(hyperparameters, str(document["origin"]))
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        what = f"its hyperparameters cannot be used ({error})"
        raise Refused([Problem(path.name, what, remedy, "fit")]) from error


def write_fit(path: Path, fit: StoredFit) -> None:
    """Store a fit, whole or not at all."""
    document = {
        "format": FORMAT,
        "origin": fit.origin,
        "hyperparameters": fit.hyperparameters.to_dict(),
    }
    write_text(path, json.dumps(document, indent=2) + "\n")
