"""What is assumed of the hyperparameters before a cohort has spoken: weak, and stated.

A normal distribution on the coordinates of :mod:`sidelong.preferences.coordinates`, centred on
the documented default. The widths are choices (status: assumption); each is wide enough that some
30 trainees overrule it, and narrow enough that 10 trainees are not led into nonsense. Two parts of
it are not independent:

- Positions are alike: means of all five have the same width, and so the four differences to
  ``centre`` go together.
- Trainees may find everything easier or harder than assumed. That shifts the lowest cut points of
  all forms and of going down together, so that a form that nobody used yet learns from the others.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from sidelong.preferences.coordinates import FORMS, N_COORDINATES, PARTS, to_coordinates
from sidelong.preferences.courses import FloatArray
from sidelong.preferences.hyperparameters import DEFAULT, Hyperparameters

WIDTHS: Mapping[str, float] = MappingProxyType(
    {
        "level_sd": 0.6,
        "spread_sd": 0.8,
        "drift_sd": 0.8,
        "level_drift_sd": 1.5,
        "night_sd": 0.8,
        "piece_sd": 0.8,
        "learning_rate": 1.0,
        "went_slope": 0.5,
        "choice_slope": 0.7,
        "learning_gain": 1.0,
        "carryover_failed": 0.4,
        "size_effect": 0.1,
        "choice_again": 1.0,
        "position_means": 0.3,
        "slot_effects": 0.3,
        "carryover_effects": 0.3,
        "lowest_cut": 0.5,
        "lowest_went_cut": 1.0,
        "gap": 0.4,
    }
)
"""SD of each part around the default; of spreads, slopes, rates and gaps on the logarithm.

Those of ``spread_sd`` and ``drift_sd`` reach no farther down than to differences that can be told
from none: that there are none has a chance of its own, see :mod:`sidelong.preferences.nodes`.
"""

COMMON_LEVEL = 0.8
"""SD of the shift that all lowest cut points share."""


@dataclass(frozen=True)
class FitPrior:
    """Normal prior on the coordinates of the hyperparameters.

    Parameters
    ----------
    centre : Hyperparameters
        Mean.
    widths : mapping of str to float
        SD of each part, > 0.
    common_level : float
        SD of the shift that all lowest cut points share, >= 0.

    Raises
    ------
    ValueError
        If a width is missing, unknown or not above 0.
    """

    centre: Hyperparameters = DEFAULT
    widths: Mapping[str, float] = field(default_factory=lambda: WIDTHS)
    common_level: float = COMMON_LEVEL

    def __post_init__(self) -> None:
        """Refuse widths that do not make a prior."""
        if set(self.widths) != set(WIDTHS):
            raise ValueError(f"widths missing or unknown: {sorted(set(self.widths) ^ set(WIDTHS))}")
        if not all(width > 0 for width in self.widths.values()) or not self.common_level >= 0:
            raise ValueError("a width of the prior is not above 0")

    @property
    def mean(self) -> FloatArray:
        """Mean of the coordinates, shape (37,)."""
        return to_coordinates(self.centre)

    @property
    def covariance(self) -> FloatArray:
        """Covariance of the coordinates, shape (37, 37)."""
        width = np.empty(N_COORDINATES)
        together = np.zeros(N_COORDINATES)
        for name, part in PARTS.items():
            if name in self.widths:
                width[part] = self.widths[name]
        for form in FORMS:
            part = PARTS[f"thresholds_{form}"]
            width[part] = self.widths["gap"]
            width[part.start] = self.widths["lowest_cut"]
            together[part.start] = self.common_level
        went = PARTS["went_cuts"]
        width[went] = self.widths["gap"]
        width[went.start] = self.widths["lowest_went_cut"]
        together[went.start] = self.common_level * self.centre.went_slope
        covariance: FloatArray = np.diag(width**2) + np.outer(together, together)
        means = PARTS["position_means"]
        covariance[means, means] += self.widths["position_means"] ** 2
        return covariance


DEFAULT_PRIOR = FitPrior()
"""The prior that ``docs/method/estimate.md`` lists."""
