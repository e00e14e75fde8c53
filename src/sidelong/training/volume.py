"""Volumes of the shapes that pieces and capsules have; lengths in mm, volumes in cubic mm."""

import math


def ellipsoid_mm3(length_mm: float, width_mm: float, thickness_mm: float) -> float:
    """Volume of an ellipsoid from its three axes, mm; a sphere has three equal ones."""
    return math.pi / 6 * length_mm * width_mm * thickness_mm


def cylinder_mm3(length_mm: float, width_mm: float, thickness_mm: float) -> float:
    """Volume of a flat disc with an elliptical outline and straight sides, mm."""
    return math.pi / 4 * length_mm * width_mm * thickness_mm


def capsule_mm3(length_mm: float, diameter_mm: float) -> float:
    """Volume of a cylinder with two half-spheres as ends, mm."""
    return math.pi * diameter_mm**2 * (length_mm / 4 - diameter_mm / 12)
