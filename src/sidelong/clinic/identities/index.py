"""The blind index: finding a sealed name without opening all of them.

Every word of a name, and the birth date, leaves a keyed hash. The same word gives the same hash, so
whoever holds the database but not the key sees only how often a word occurs.
"""

import hashlib
import hmac
import unicodedata
from datetime import date

from sidelong.clinic.identities.identity import Identity
from sidelong.clinic.keys import Key
from sidelong.clinic.sealing import framed

_DOMAIN = b"sidelong blind index"


def words_of(name: str) -> frozenset[str]:
    """Split a name into words as they are compared: without case, accents and marks.

    Parameters
    ----------
    name : str
        One or several names.

    Returns
    -------
    frozenset of str
        Its words.
    """
    # The Unicode standard's compatibility caseless matching (D146): some letters turn into
    # capitals only when they are taken apart, and others come apart only in small letters.
    spread = unicodedata.normalize("NFD", name)
    for _ in range(2):
        spread = unicodedata.normalize("NFKD", spread.casefold())
    plain = "".join(each for each in spread if not unicodedata.combining(each))
    apart = "".join(each if each.isalnum() else " " for each in plain)
    return frozenset(apart.split())


def word_token(word: str, *, key: Key) -> str:
    """Hash one compared word, 64 hexadecimal digits."""
    return _token("word", word, key)


def birth_token(born: date, *, key: Key) -> str:
    """Hash a birth date, 64 hexadecimal digits."""
    return _token("born", born.isoformat(), key)


def tokens_of(identity: Identity, *, key: Key) -> frozenset[str]:
    """Give all hashes under which somebody is found.

    Parameters
    ----------
    identity : Identity
        Whom to find later; the supporter's name counts too, since that is who calls.
    key : Key
        Of the purpose `index`.

    Returns
    -------
    frozenset of str
        One for every word, and one for the birth date.
    """
    names = f"{identity.given_names} {identity.family_name} {identity.supporter_name}"
    words = (word_token(word, key=key) for word in words_of(names))
    return frozenset(words) | {birth_token(identity.birth_date, key=key)}


def _token(kind: str, text: str, key: Key) -> str:
    content = framed(_DOMAIN, kind.encode("ascii"), text.encode("utf-8"))
    return hmac.new(key.secret, content, hashlib.sha256).hexdigest()
