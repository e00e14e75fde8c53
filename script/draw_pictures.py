"""Turn pages of the demo into small pictures; called by `script/pictures`."""

import sys
from pathlib import Path

import pypdfium2
from PIL import Image

PAGES = {
    "steps": ("booklets", 1),
    "night": ("booklets", 10),
    "safety": ("booklets", 4),
    "report": ("reports", 0),
}
WIDTH_PX = 560


def draw(demo: Path, out: Path) -> None:
    """Draw the pages of the first trainee who has a booklet."""
    out.mkdir(parents=True, exist_ok=True)
    for name, (folder, number) in PAGES.items():
        source = sorted((demo / folder).glob("*.pdf"))[0]
        with pypdfium2.PdfDocument(source) as document:
            page = document[number]
            picture = page.render(scale=WIDTH_PX / page.get_width() * 2).to_pil()
        small = picture.convert("RGB").resize(
            (WIDTH_PX, round(WIDTH_PX * picture.height / picture.width)), Image.Resampling.LANCZOS
        )
        small.quantize(64).save(out / f"{name}.png", optimize=True)


if __name__ == "__main__":
    draw(Path(sys.argv[1]), Path(sys.argv[2]))
