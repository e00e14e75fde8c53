"""What a locked estimate rests on, as marks that cross our border: fit and entries."""

import hashlib
import json

from sidelong.exchange.fits import StoredFit
from sidelong.training.promise import FitMark


def mark_fit(fit: StoredFit) -> FitMark:
    """Mark the hyperparameters that an estimate rests on.

    Parameters
    ----------
    fit : StoredFit
        Shipped values, or a clinic's own.

    Returns
    -------
    FitMark
        Its fingerprint changes with any of the values, whatever the fit is called.
    """
    values = {
        "hyperparameters": fit.hyperparameters.to_dict(),
        "mixture": fit.mixture
        and [
            [weight, point.to_dict()]
            for weight, point in zip(fit.mixture.weights, fit.mixture.points, strict=True)
        ],
    }
    text = json.dumps(values, sort_keys=True, separators=(",", ":"))
    fingerprint = hashlib.sha256(text.encode("utf-8")).hexdigest()
    return FitMark(name=fit.origin, program=fit.program, fingerprint=fingerprint)
