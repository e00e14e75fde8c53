"""Counterbalanced orders of positions: numpy in, integer arrays out."""

from sidelong.designs.allocation import Allocation, allocate_orders, replay_allocations
from sidelong.designs.base_plans import base_plans, table_digest
from sidelong.designs.criteria import (
    SUPPORTED_NIGHTS,
    SUPPORTED_POSITIONS,
    OrderCriteria,
    criteria_for,
)
from sidelong.designs.drawing import draw_orders
from sidelong.designs.efficiency import a_efficiency, position_information
from sidelong.designs.fields import field_tables
from sidelong.designs.measures import OrderMeasures, measure_orders
from sidelong.designs.secret_draws import SecretDraws, commit_seed, key_from_seed
from sidelong.designs.streams import stream_label

__all__ = [
    "SUPPORTED_NIGHTS",
    "SUPPORTED_POSITIONS",
    "Allocation",
    "OrderCriteria",
    "OrderMeasures",
    "SecretDraws",
    "a_efficiency",
    "allocate_orders",
    "base_plans",
    "commit_seed",
    "criteria_for",
    "draw_orders",
    "field_tables",
    "key_from_seed",
    "measure_orders",
    "position_information",
    "replay_allocations",
    "stream_label",
    "table_digest",
]
