"""Find the sentences that a protocol carries for families, for pybabel.

They stand in TOML files under the keys ``text``, ``texts`` and ``said_to``; everything else
there is for staff.
"""

import tomllib
from collections.abc import Collection, Iterator, Mapping
from typing import IO, Any

Found = tuple[int, str, str, list[str]]


def extract(
    fileobj: IO[bytes],
    keywords: Mapping[str, object],
    comment_tags: Collection[str],
    options: Mapping[str, object],
) -> Iterator[Found]:
    """Yield the sentences of one TOML file, as Babel asks its extractors to.

    Parameters
    ----------
    fileobj : file of bytes
        The file.
    keywords, comment_tags, options : object
        Babel's; not used, a TOML file has no function calls.

    Yields
    ------
    tuple of int, str, str, list
        Line, no function name, sentence, no comments.
    """
    del keywords, comment_tags, options
    content = fileobj.read().decode("utf-8")
    lines = content.splitlines()
    for sentence in _sentences(tomllib.loads(content)):
        line = next((i for i, each in enumerate(lines, start=1) if sentence[:30] in each), 0)
        yield line, "", sentence, []


def _sentences(value: Any) -> Iterator[str]:
    if isinstance(value, list):
        for each in value:
            yield from _sentences(each)
    elif isinstance(value, dict):
        for key, each in value.items():
            if key == "text" and isinstance(each, str):
                yield each
            elif key == "texts":
                yield from each
            elif key == "said_to":
                yield from each.values()
            else:
                yield from _sentences(each)
