import json
from dataclasses import replace

import pytest

from sidelong.preferences import DEFAULT, Hyperparameters


def test_hyperparameters_survive_json() -> None:
    changed = replace(DEFAULT, position_means=(0.1, -0.2, 0.0, 0.3, -0.4), drift_sd=0.0)
    assert Hyperparameters.from_dict(json.loads(json.dumps(changed.to_dict()))) == changed


def test_a_missing_or_unknown_field_is_refused() -> None:
    plain = DEFAULT.to_dict()
    plain["drift"] = plain.pop("drift_sd")
    with pytest.raises(ValueError, match="drift"):
        Hyperparameters.from_dict(plain)


@pytest.mark.parametrize(
    ("broken", "reason"),
    [
        ({"level_sd": -0.1}, "level_sd"),
        ({"piece_sd": float("nan")}, "piece_sd"),
        ({"position_means": (0.0, 0.0, 0.1, 0.0, 0.0)}, "mean of centre"),
        ({"position_means": (0.0, 0.0, 0.0)}, "position_means"),
        ({"slot_effects": (0.1, 0.0, 0.0, 0.0, 0.0)}, "slot 1"),
        ({"carryover_effects": (0.1, 0.0, 0.0, 0.0, 0.0)}, "sum to 0"),
        ({"thresholds": {**DEFAULT.thresholds, 3: (1.0, -1.0)}}, "do not ascend"),
        ({"thresholds": {**DEFAULT.thresholds, 3: (1.0,)}}, "needs 2 cuts"),
        ({"thresholds": {5: DEFAULT.thresholds[5]}}, "scales"),
        ({"went_cuts": (0.0, -1.0)}, "went_cuts"),
        ({"went_slope": 0.0}, "went_slope"),
    ],
)
def test_values_outside_their_range_are_refused(broken: dict[str, object], reason: str) -> None:
    with pytest.raises(ValueError, match=reason):
        replace(DEFAULT, **broken)


def test_the_default_favours_no_position() -> None:
    assert set(DEFAULT.position_means) == {0.0}
    assert set(DEFAULT.carryover_effects) == {0.0}
