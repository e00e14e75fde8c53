"""From millimetres on a page to pixels of a photograph: a plane in space, then paper that curls.

A homography carries the page as if it were flat and the lens perfect. What is left, lens and curl,
is a smooth shift of a few millimetres, kept on a grid of knots over the page.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RBFInterpolator

Points = NDArray[np.float64]

KNOT_MM = 10.0


@dataclass(frozen=True)
class PageMapping:
    """Where each place of a page lies in a photograph.

    Parameters
    ----------
    homography : ndarray of float, shape (3, 3)
        From mm on the page to px of the whole photograph.
    shift : ndarray of float, shape (n_rows, n_columns, 2)
        Shift of the page at knots ``KNOT_MM`` apart, mm, before the homography; the first knot is
        the page's top left corner.
    """

    homography: Points
    shift: Points

    def to_photograph(self, points: Points) -> Points:
        """Carry places of the page into the photograph.

        Parameters
        ----------
        points : ndarray of float, shape (n, 2)
            Millimetres from the page's top left corner.

        Returns
        -------
        ndarray of float, shape (n, 2)
            Pixels of the whole photograph.
        """
        return project(self.homography, points + self.shift_at(points))

    def shift_at(self, points: Points) -> Points:
        """Interpolate the shift, mm, at places of the page; shape (n, 2)."""
        rows, columns, _ = self.shift.shape
        at = points / KNOT_MM
        x = np.clip(at[:, 0], 0, columns - 1.001)
        y = np.clip(at[:, 1], 0, rows - 1.001)
        i, j = y.astype(int), x.astype(int)
        v, u = (y - i)[:, None], (x - j)[:, None]
        upper = (1 - u) * self.shift[i, j] + u * self.shift[i, j + 1]
        lower = (1 - u) * self.shift[i + 1, j] + u * self.shift[i + 1, j + 1]
        return np.asarray((1 - v) * upper + v * lower)

    def px_per_mm(self, point: Points) -> float:
        """Tell how large the page is in the photograph at one place, px per mm."""
        # The determinant of a homography's derivative: asked for every patch, so without arrays.
        x, y = (float(each) for each in point)
        (a, b, c), (d, e, f), (g, h, i) = self.homography.tolist()
        whole = a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g)
        return float(abs(whole / (g * x + h * y + i) ** 3) ** 0.5)

    def shifted_more(self, points: Points, shifts: Points, *, smoothing: Points) -> "PageMapping":
        """Add a smooth field through measured shifts to what is known.

        Parameters
        ----------
        points : ndarray of float, shape (n, 2)
            Where on the page it was measured, mm; at least three places, not in one line.
        shifts : ndarray of float, shape (n, 2)
            What was measured there, mm, on top of the present shift.
        smoothing : ndarray of float, shape (n,)
            How little each of them is trusted; 0 is met exactly.

        Returns
        -------
        PageMapping
            With the shift added, at knots over the same page.
        """
        rows, columns, _ = self.shift.shape
        field = RBFInterpolator(
            points / 100.0, shifts, kernel="thin_plate_spline", smoothing=smoothing, degree=1
        )
        x, y = np.meshgrid(np.arange(columns) * KNOT_MM, np.arange(rows) * KNOT_MM)
        more = field(np.stack([x.ravel(), y.ravel()], axis=1) / 100.0)
        return PageMapping(self.homography, self.shift + more.reshape(rows, columns, 2))


def flat_mapping(homography: Points, size_mm: tuple[float, float]) -> PageMapping:
    """Start with a flat page: knots all over it, and no shift.

    Parameters
    ----------
    homography : ndarray of float, shape (3, 3)
        From mm on the page to px.
    size_mm : tuple of float
        Width and height of the page.

    Returns
    -------
    PageMapping
        Ready to be refined.
    """
    columns, rows = (int(np.ceil(side / KNOT_MM)) + 1 for side in size_mm)
    return PageMapping(homography, np.zeros((rows, columns, 2)))


def fit_homography(page: Points, photograph: Points) -> Points | None:
    """Fit a homography to corners by least squares.

    Parameters
    ----------
    page : ndarray of float, shape (n, 2)
        Places on the page, mm; at least 4.
    photograph : ndarray of float, shape (n, 2)
        The same in the photograph, px.

    Returns
    -------
    ndarray of float, shape (3, 3), or None
        None where they do not make one: corners in one line, or a page turned inside out.
    """
    found, _ = cv2.findHomography(page, photograph, 0)
    if found is None or not np.isfinite(found).all():
        return None
    depth = np.c_[page, np.ones(len(page))] @ found[2]
    is_seen_from_front = np.linalg.det(found) > 0 and (depth > 0).all()
    return np.asarray(found) if is_seen_from_front else None


def project(homography: Points, points: Points) -> Points:
    """Apply a homography to points of shape (n, 2)."""
    carried = points @ homography[:, :2].T + homography[:, 2]
    return np.asarray(carried[:, :2] / carried[:, 2:])


def polygon_area(corners: Points) -> float:
    """Give the area inside a line of corners (shoelace formula).

    Parameters
    ----------
    corners : ndarray of float, shape (n, 2)
        In order, either way round.

    Returns
    -------
    float
        0 or more, in the square of their unit.
    """
    x, y = corners.T
    return abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))) / 2
