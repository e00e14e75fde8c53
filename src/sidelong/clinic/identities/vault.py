"""Between rows and values: sealing an identity into its row, and opening it again."""

from sidelong.clinic.identities.identity import COLUMNS, Identity, from_texts, to_text
from sidelong.clinic.identities.index import tokens_of
from sidelong.clinic.identities.models import IndexToken, SealedIdentity
from sidelong.clinic.keys import KeyRing, Purpose
from sidelong.clinic.sealing import Place, seal, sealed_with, unseal

# Bound into every value: not the table's name, which a later migration might change.
_TABLE = "identity"


def place_of(code: str, column: str) -> Place:
    """Name the place of one sealed value."""
    return Place(_TABLE, column, code)


def store(code: str, identity: Identity, *, ring: KeyRing) -> None:
    """Seal an identity and its index with the newest keys; inside an act."""
    key = ring.newest(Purpose.NAMES)
    sealed = {
        column: seal(
            to_text(identity, column).encode("utf-8"), key=key, place=place_of(code, column)
        )
        for column in COLUMNS
    }
    row = SealedIdentity(code=code, **sealed)
    row.save()
    index_key = ring.newest(Purpose.INDEX)
    IndexToken.objects.filter(identity=row).delete()
    IndexToken.objects.bulk_create(
        IndexToken(identity=row, key_name=index_key.name, token=token)
        for token in sorted(tokens_of(identity, key=index_key))
    )


def open_row(row: SealedIdentity, *, ring: KeyRing) -> Identity:
    """Open every column of a row."""
    texts = {
        column: unseal(
            bytes(getattr(row, column)),
            ring=ring,
            purpose=Purpose.NAMES,
            place=place_of(row.code, column),
        ).decode("utf-8")
        for column in COLUMNS
    }
    return from_texts(texts)


def is_up_to_date(row: SealedIdentity, *, ring: KeyRing) -> bool:
    """Tell whether the newest keys sealed a row and its index."""
    newest = ring.newest(Purpose.NAMES).name
    names = {
        sealed_with(bytes(getattr(row, column)), place=place_of(row.code, column))
        for column in COLUMNS
    }
    index = {token.key_name for token in row.tokens.all()}
    return names == {newest} and index == {ring.newest(Purpose.INDEX).name}
