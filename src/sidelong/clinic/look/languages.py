"""Languages by their own names, for those who choose one."""

from django.utils.translation import get_language_info


def name_language(tag: str) -> str:
    """Name a language in its own words; a tag that is not known stays as it is.

    Parameters
    ----------
    tag : str
        BCP 47 tag.

    Returns
    -------
    str
        For example ``English (en)``.
    """
    try:
        return f"{get_language_info(tag)['name_local']} ({tag})"
    except KeyError:
        return tag
