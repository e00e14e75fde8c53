"""What is assumed of all trainees together, as one frozen value.

Units: everything called an effect, mean or SD is on the latent scale of ease, where the noise of
one rating has standard deviation 1. A higher ease is easier. Two zero points make the numbers
unique: the mean of ``centre`` and the effect of slot 1 are 0, so the thresholds carry the level.

The values in :data:`DEFAULT` are assumptions: nobody has published them, and a fit to a clinic's
own trainees replaces them. ``docs/method/estimate.md`` lists each with its reason.
"""

import itertools
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any, Self

N_POSITIONS = 5
CENTRE = 2
"""Index of ``centre`` in the listed order down, left, centre, right, up."""

REFERENCE_PIECE_MM = 5.0
"""Piece size at which the size effect is 0."""

REFERENCE_NIGHTS = 14
"""The learning gain is the rise from night 1 to this night."""

RATINGS_OF_SCALE: dict[int, tuple[int, ...]] = {
    5: (1, 2, 3, 4, 5),
    4: (1, 2, 4, 5),
    3: (1, 3, 5),
    2: (2, 4),
}
"""Answers that each form of the rating offers, hardest first."""


def _default_thresholds() -> dict[int, tuple[float, ...]]:
    return {5: (-1.4, -0.4, 0.6, 1.7), 4: (-1.3, 0.1, 1.5), 3: (-0.8, 1.0), 2: (0.1,)}


@dataclass(frozen=True)
class Hyperparameters:
    """Everything that is shared by all trainees.

    Parameters
    ----------
    position_means : tuple of float, length 5
        Mean ease of each position on night 1 compared with centre, in listed order; centre is 0.
    level_sd : float
        SD between trainees of the ease that all their positions share, >= 0.
    spread_sd : float
        SD between the positions of one trainee, >= 0.
    drift_sd : float
        SD of the change of one position from one night to the next, >= 0.
    level_drift_sd : float
        SD of the nightly change that all positions of a trainee share, >= 0.
    learning_gain : float
        Mean rise of ease from night 1 to night 14.
    learning_rate : float
        How fast the rise levels off, per night, >= 0; 0 makes it a straight line.
    night_sd : float
        SD of the effect of one night on all its pieces, >= 0.
    piece_sd : float
        SD of the noise of one piece, shared by its rating, whether it went down and whether it
        felt best, >= 0.
    slot_effects : tuple of float, length 5
        Effect of the place in the night's order; slot 1 is 0.
    carryover_effects : tuple of float, length 5
        Effect of the position practised just before in the same night; they sum to 0.
    carryover_failed : float
        Effect of a piece just before, in the same night, that did not go down.
    size_effect : float
        Effect of one mm of piece size beyond 5 mm.
    thresholds : dict of int to tuple of float
        Cut points between neighbouring answers for each form of the rating, ascending.
    went_slope : float
        Weight of ease on the logit of going down, > 0.
    went_cuts : tuple of float, length 2
        Cut points no | later and later | first on the logit scale, ascending.
    choice_slope : float
        Weight of ease in naming the night's best, >= 0.
    choice_again : float
        Bonus on that scale for the position that was named the last time.

    Raises
    ------
    ValueError
        If a length, sign or order is broken, or a zero point is not 0.
    """

    position_means: tuple[float, ...] = (0.0, 0.0, 0.0, 0.0, 0.0)
    level_sd: float = 1.0
    spread_sd: float = 0.8
    drift_sd: float = 0.12
    level_drift_sd: float = 0.12
    learning_gain: float = 1.0
    learning_rate: float = 0.15
    night_sd: float = 0.4
    piece_sd: float = 0.6
    slot_effects: tuple[float, ...] = (0.0, 0.1, 0.1, 0.05, 0.0)
    carryover_effects: tuple[float, ...] = (0.0, 0.0, 0.0, 0.0, 0.0)
    carryover_failed: float = -0.3
    size_effect: float = -0.08
    thresholds: dict[int, tuple[float, ...]] = field(default_factory=_default_thresholds)
    went_slope: float = 1.3
    went_cuts: tuple[float, float] = (-2.4, -1.2)
    choice_slope: float = 2.0
    choice_again: float = 0.2

    def __post_init__(self) -> None:
        """Refuse values outside their range and zero points that moved."""
        self._check_lengths()
        self._check_signs()
        for scale, cuts in self.thresholds.items():
            if not _ascends(cuts):
                raise ValueError(f"thresholds of scale {scale} do not ascend: {cuts}")
        if not _ascends(self.went_cuts):
            raise ValueError(f"went_cuts do not ascend: {self.went_cuts}")

    def _check_lengths(self) -> None:
        for name in ("position_means", "slot_effects", "carryover_effects"):
            if len(getattr(self, name)) != N_POSITIONS:
                raise ValueError(f"{name} needs {N_POSITIONS} numbers")
        if set(self.thresholds) != set(RATINGS_OF_SCALE):
            raise ValueError(f"thresholds are needed for the scales {sorted(RATINGS_OF_SCALE)}")
        for scale, cuts in self.thresholds.items():
            if len(cuts) != len(RATINGS_OF_SCALE[scale]) - 1:
                raise ValueError(f"scale {scale} needs {len(RATINGS_OF_SCALE[scale]) - 1} cuts")
        if len(self.went_cuts) != 2:
            raise ValueError("went_cuts needs 2 numbers")

    def _check_signs(self) -> None:
        for name in ("level_sd", "spread_sd", "drift_sd", "level_drift_sd", "learning_rate"):
            _refuse_negative(name, getattr(self, name))
        for name in ("night_sd", "piece_sd", "choice_slope"):
            _refuse_negative(name, getattr(self, name))
        if not self.went_slope > 0:
            raise ValueError(f"went_slope {self.went_slope} is not above 0")
        if self.position_means[CENTRE] != 0.0:
            raise ValueError("the mean of centre is 0 by definition")
        if self.slot_effects[0] != 0.0:
            raise ValueError("the effect of slot 1 is 0 by definition")
        if abs(math.fsum(self.carryover_effects)) > 1e-9:
            raise ValueError("the carryover effects of the positions sum to 0 by definition")

    def to_dict(self) -> dict[str, Any]:
        """Give plain numbers, lists and text keys, ready for JSON."""
        plain = {
            name: list(value) if isinstance(value, tuple) else value
            for name, value in asdict(self).items()
        }
        plain["thresholds"] = {str(scale): list(cuts) for scale, cuts in self.thresholds.items()}
        return plain

    @classmethod
    def from_dict(cls, plain: Mapping[str, Any]) -> Self:
        """Read back what :meth:`to_dict` gave.

        Parameters
        ----------
        plain : mapping
            Every field by name; lists for tuples, text keys for scales.

        Returns
        -------
        Hyperparameters
            Equal to the value that was written.

        Raises
        ------
        ValueError
            If a field is missing or unknown.
        """
        known = set(cls.__dataclass_fields__)
        if set(plain) != known:
            raise ValueError(f"fields missing or unknown: {sorted(set(plain) ^ known)}")
        values: dict[str, Any] = {
            name: tuple(value) if isinstance(value, list) else value
            for name, value in plain.items()
        }
        values["thresholds"] = {
            int(scale): tuple(cuts) for scale, cuts in plain["thresholds"].items()
        }
        return cls(**values)


def _ascends(cuts: tuple[float, ...]) -> bool:
    return all(low < high for low, high in itertools.pairwise(cuts))


def _refuse_negative(name: str, value: float) -> None:
    if not (value >= 0 and math.isfinite(value)):
        raise ValueError(f"{name} {value} is not a number from 0 upwards")


DEFAULT = Hyperparameters()
"""The documented start for a clinic without a fit of its own; every value is an assumption."""


@dataclass(frozen=True)
class HyperparameterMixture:
    """Several hyperparameters that a cohort leaves possible, each with its weight.

    Parameters
    ----------
    points : tuple of Hyperparameters
        At least one.
    weights : tuple of float
        One per point, > 0; they sum to 1.

    Raises
    ------
    ValueError
        If lengths differ or the weights are no distribution.
    """

    points: tuple[Hyperparameters, ...]
    weights: tuple[float, ...]

    def __post_init__(self) -> None:
        """Refuse weights that are no distribution."""
        if not self.points or len(self.points) != len(self.weights):
            raise ValueError(f"{len(self.points)} points with {len(self.weights)} weights")
        if min(self.weights) <= 0 or abs(math.fsum(self.weights) - 1.0) > 1e-9:
            raise ValueError("the weights of a mixture must be above 0 and sum to 1")

    @property
    def middle(self) -> int:
        """Place of the point halfway by weight, from the smallest differences to the largest."""
        order = sorted(range(len(self.points)), key=lambda place: self.points[place].spread_sd)
        reached = list(itertools.accumulate(self.weights[place] for place in order))
        return next(place for place, sum_ in zip(order, reached, strict=True) if sum_ > 0.5 - 1e-9)


Shared = Hyperparameters | HyperparameterMixture
"""What an estimate may rest on: one value, or all that a small cohort leaves possible."""


def mix(shared: Shared) -> HyperparameterMixture:
    """Take one value as a mixture of one."""
    if isinstance(shared, HyperparameterMixture):
        return shared
    return HyperparameterMixture((shared,), (1.0,))
