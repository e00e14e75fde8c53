"""A kit as the generators use it: the layout, and its pages as pictures."""

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pypdfium2

from sidelong.exchange.layouts import read_layout
from sidelong.training.layout import Layout, SheetPage

POINTS_PER_MM = 72 / 25.4


@dataclass(frozen=True)
class Kit:
    """A folder with ``layout.json`` and the PDF that it names."""

    folder: Path
    layout: Layout
    _open: list[pypdfium2.PdfDocument] = field(default_factory=list, compare=False, repr=False)

    @classmethod
    def read(cls, folder: Path) -> "Kit":
        """Read the layout; the PDF is opened when a page is first wanted."""
        return cls(folder, read_layout(folder / "layout.json"))

    def render(self, page: SheetPage, px_per_mm: float) -> np.ndarray:
        """Draw one page: RGB uint8, its corner at (0, 0)."""
        if not self._open:
            self._open.append(pypdfium2.PdfDocument(self.folder / self.layout.pdf))
        bitmap = self._open[0][page.pdf_page].render(scale=px_per_mm / POINTS_PER_MM)
        pixels = bitmap.to_numpy()[:, :, :3]
        is_bgr = bitmap.mode.startswith("BGR")
        return np.ascontiguousarray(pixels[:, :, ::-1] if is_bgr else pixels)
