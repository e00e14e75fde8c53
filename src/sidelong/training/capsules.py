"""Sizes of two-piece hard capsules, for comparison and for checking what was typed.

Sizes are an industry convention without a standard number, and makers differ by about 0.3 to
0.5 mm in length and 0.05 mm in diameter. Closed length, cap diameter and body volume come from
capsule-size charts, each read in another's summary; body diameter and shell mass are from memory.
Nothing from memory is printed as a fact to a family.
"""

from dataclasses import dataclass

from sidelong.training.volume import capsule_mm3

READ_SECONDARY = "read (secondary)"
MEMORY = "memory"

# Outside this band a size was probably mistyped or is an elongated variant. The band is given for
# size 0 (common practice) and scaled to the others.
_SIZE_0_LENGTH_MM, _SIZE_0_DIAMETER_MM = (20.5, 21.4, 22.5), (7.4, 7.66, 7.9)


@dataclass(frozen=True)
class CapsuleSize:
    """One size of hard capsule.

    Parameters
    ----------
    name : str
        000 (largest) to 5 (smallest); `el` marks an elongated variant.
    length_mm : float
        Closed length, mm.
    cap_mm : float
        Outer diameter of the cap, mm.
    volume_ml : float
        Volume of the body, mL.
    body_mm, shell_mg : float or None
        Outer diameter of the body, mm, and mass of the empty shell, mg; both from memory.
    """

    name: str
    length_mm: float
    cap_mm: float
    volume_ml: float
    body_mm: float | None = None
    shell_mg: float | None = None

    STATUS = {  # noqa: RUF012 - read only; a dataclass would take a plain annotation for a field
        "length_mm": READ_SECONDARY,
        "cap_mm": READ_SECONDARY,
        "volume_ml": READ_SECONDARY,
        "body_mm": MEMORY,
        "shell_mg": MEMORY,
    }

    @property
    def length_and_twice_diameter_mm(self) -> float:
        """Length plus twice the diameter, mm; an index made for tablets, not a limit here."""
        return self.length_mm + 2 * self.cap_mm

    @property
    def outer_volume_ml(self) -> float:
        """Volume of a cylinder with round ends of this length and cap diameter, mL."""
        return capsule_mm3(self.length_mm, self.cap_mm) / 1000

    def filled_density_g_per_ml(self, fill_g_per_ml: float) -> float:
        """Density of the whole capsule, g/mL, for a powder of this density in a full body.

        Parameters
        ----------
        fill_g_per_ml : float
            Density of the fill, g/mL; 0 for air.

        Returns
        -------
        float
            Density; computed with a shell mass from memory.

        Raises
        ------
        ValueError
            If the shell's mass is not known for this size.
        """
        if self.shell_mg is None:
            raise ValueError(f"the shell of size {self.name} was not weighed")
        return (fill_g_per_ml * self.volume_ml + self.shell_mg / 1000) / self.outer_volume_ml


CAPSULE_SIZES = (
    CapsuleSize("000", 25.9, 9.96, 1.37, 9.55, 163),
    CapsuleSize("00", 23.5, 8.55, 0.95, 8.18, 118),
    CapsuleSize("0", 21.4, 7.66, 0.68, 7.34, 96),
    CapsuleSize("1", 19.3, 6.93, 0.50, 6.63, 76),
    CapsuleSize("2", 17.8, 6.37, 0.37, 6.07, 61),
    CapsuleSize("3", 15.8, 5.85, 0.30, 5.57, 48),
    CapsuleSize("4", 14.4, 5.33, 0.21, 5.05, 38),
    CapsuleSize("5", 11.4, 4.91, 0.13, 4.68, 28),
)
"""The eight usual sizes, largest first."""

ELONGATED_SIZES = (
    CapsuleSize("00el", 25.5, 8.55, 1.02),
    CapsuleSize("0el", 23.2, 7.66, 0.78),
    CapsuleSize("1el", 20.4, 6.93, 0.54),
    CapsuleSize("2el", 19.3, 6.37, 0.41),
)
"""Elongated variants: the same diameter, longer."""


def capsule_size(name: str) -> CapsuleSize:
    """Find a size by name.

    Parameters
    ----------
    name : str
        For example "0" or "00el".

    Returns
    -------
    CapsuleSize
        The size.

    Raises
    ------
    ValueError
        If there is no such size.
    """
    for size in (*CAPSULE_SIZES, *ELONGATED_SIZES):
        if size.name == name:
            return size
    known = ", ".join(size.name for size in (*CAPSULE_SIZES, *ELONGATED_SIZES))
    raise ValueError(f"there is no capsule size {name}; known are {known}")


def measures_like(name: str, *, length_mm: float, diameter_mm: float) -> bool:
    """Say whether a measured capsule can be of the size that was typed.

    Parameters
    ----------
    name : str
        Name of the size.
    length_mm, diameter_mm : float
        As measured, mm.

    Returns
    -------
    bool
        False where it was probably mistyped, or is an elongated variant.
    """
    size = capsule_size(name)
    return _within(length_mm, size.length_mm, band=_SIZE_0_LENGTH_MM) and _within(
        diameter_mm, size.cap_mm, band=_SIZE_0_DIAMETER_MM
    )


def _within(measured: float, tabled: float, *, band: tuple[float, float, float]) -> bool:
    """Say whether a measure lies in the band of size 0, scaled to this size."""
    low, middle, high = band
    return low <= round(measured / tabled * middle, 6) <= high
