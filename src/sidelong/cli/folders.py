"""Folders that a command fills with one document per trainee."""

from collections.abc import Iterable
from pathlib import Path

from sidelong.cli.words import counted
from sidelong.problems import Problem, Refused

# What file managers leave in every folder that somebody has looked at.
_LEFT_BY_LOOKING = frozenset({".ds_store", "thumbs.db", "desktop.ini"})


def prepare_folder(folder: Path, *, names: Iterable[str]) -> None:
    """Make a folder for documents, and refuse one in which they would mix with others.

    A sheet of an earlier run beside those of today is a sheet that goes home with the wrong
    family.

    Parameters
    ----------
    folder : Path
        Made with its parents where it does not exist.
    names : iterable of str
        File names that will be written; files of these names are replaced.

    Raises
    ------
    Refused
        If something else lies in the folder.
    """
    folder.mkdir(parents=True, exist_ok=True)
    wanted = set(names)
    others = sorted(
        each.name
        for each in folder.iterdir()
        if each.name not in wanted and each.name.casefold() not in _LEFT_BY_LOOKING
    )
    if others:
        what = f"{counted(len(others), 'other file')} in it, the first is {others[0]}"
        remedy = "Give an empty folder, or move them away, so that no families' pages mix."
        raise Refused([Problem(str(folder), what, remedy, "folder")])
