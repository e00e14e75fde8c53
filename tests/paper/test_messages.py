"""The catalogue's template is fresh, and the font can show all of it."""

import io
import struct
import sys
from importlib.resources import files
from pathlib import Path

import fontpkg_ibm_plex_sans_arabic
import pytest
from babel.messages.extract import extract_from_dir
from babel.messages.frontend import parse_mapping_cfg
from babel.messages.pofile import read_po

from sidelong.paper.language import read_language

ROOT = Path(__file__).parents[2]
TEMPLATE = ROOT / "src" / "sidelong" / "paper" / "locale" / "sidelong.pot"
KEYWORDS = {"say": None, "message": None, "count": (1, 2)}
# Set no ink: line breaks, and marks that only say in which direction to read.
INVISIBLE = {"\n", "\u2066", "\u2069"}


def catalogue() -> set[tuple[str, ...]]:
    with TEMPLATE.open("rb") as file:
        entries = [entry.id for entry in read_po(file) if entry.id]
    return {entry if isinstance(entry, tuple) else (entry,) for entry in entries}


def test_the_template_holds_every_sentence_of_the_program_and_no_other() -> None:
    sys.path.insert(0, str(ROOT / "script"))
    try:
        config = io.StringIO((ROOT / "babel.cfg").read_text(encoding="utf-8"))
        methods, options = parse_mapping_cfg(config, filename="babel.cfg")
        found = {
            entry if isinstance(entry, tuple) else (entry,)
            for _, _, entry, _, _ in extract_from_dir(
                ROOT / "src", methods, options, keywords=KEYWORDS
            )
        }
    finally:
        sys.path.remove(str(ROOT / "script"))
    assert len(found) > 100
    missing, left_over = found - catalogue(), catalogue() - found
    assert not missing, f"run script/messages: {len(missing)} new, such as {min(missing)}"
    assert not left_over, f"run script/messages: {len(left_over)} gone, such as {min(left_over)}"


def test_sentences_of_the_protocol_are_in_the_catalogue_and_its_gates_are_not() -> None:
    sentences = {entry[0] for entry in catalogue()}
    assert "Nobody at the clinic is watching in the evening." in sentences
    assert not any("videofluoroscopy" in sentence for sentence in sentences)


@pytest.mark.parametrize("weight", ["Regular", "Medium", "SemiBold", "Bold"])
def test_the_font_has_a_glyph_for_every_character_of_every_sentence(weight: str) -> None:
    # Typst says nothing about a missing glyph, so the font's own table is asked.
    folder = Path(str(files(fontpkg_ibm_plex_sans_arabic)))
    [font] = folder.rglob(f"*-{weight}.ttf")
    has = mapped_characters(font.read_bytes())
    wanted = set("0123456789%·×–- .,:;?!()[]{}")
    for tag in ("en", "en-XA", "ar-XB"):
        say = read_language(tag).say
        wanted |= {char for entry in catalogue() for one in entry for char in say(one)}
    missing = {char for char in wanted - INVISIBLE if ord(char) not in has}
    assert not missing, sorted(missing)
    assert ord("\u2603") not in has, "the snowman shows that a missing glyph would be found"


def mapped_characters(font: bytes) -> set[int]:
    """Read the characters of a TrueType font (OpenType specification, cmap formats 4 and 12)."""
    n_tables = struct.unpack_from(">H", font, 4)[0]
    records = (struct.unpack_from(">4sLLL", font, 12 + 16 * i) for i in range(n_tables))
    start = next(offset for name, _, offset, _ in records if name == b"cmap")
    n_subtables = struct.unpack_from(">H", font, start + 2)[0]
    found: set[int] = set()
    for i in range(n_subtables):
        _, _, offset = struct.unpack_from(">HHL", font, start + 4 + 8 * i)
        found |= _subtable(font, start + offset)
    return found


def _subtable(font: bytes, at: int) -> set[int]:
    kind = struct.unpack_from(">H", font, at)[0]
    if kind == 12:
        n_groups = struct.unpack_from(">L", font, at + 12)[0]
        groups = (struct.unpack_from(">LLL", font, at + 16 + 12 * i) for i in range(n_groups))
        return {char for first, last, _ in groups for char in range(first, last + 1)}
    if kind != 4:
        return set()
    n = struct.unpack_from(">H", font, at + 6)[0] // 2
    ends = struct.unpack_from(f">{n}H", font, at + 14)
    starts = struct.unpack_from(f">{n}H", font, at + 16 + 2 * n)
    deltas = struct.unpack_from(f">{n}H", font, at + 16 + 4 * n)
    ranges_at = at + 16 + 6 * n
    ranges = struct.unpack_from(f">{n}H", font, ranges_at)
    found = set()
    for i in range(n):
        for char in range(starts[i], min(ends[i], 0xFFFE) + 1):
            glyph = char
            if ranges[i]:
                where = ranges_at + 2 * i + ranges[i] + 2 * (char - starts[i])
                glyph = struct.unpack_from(">H", font, where)[0]
                if glyph == 0:
                    continue
            if (glyph + deltas[i]) % 0x10000:
                found.add(char)
    return found
