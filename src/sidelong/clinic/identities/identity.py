"""Who a trainee is, as a value that shows nothing by accident."""

from dataclasses import dataclass, fields
from datetime import date

from sidelong.problems import Problem, Refused


@dataclass(frozen=True, repr=False)
class Identity:
    """A trainee's name, birth date and contacts.

    Parameters
    ----------
    given_names, family_name : str
        As the family writes them.
    birth_date : date
        Day of birth.
    supporter_name : str
        The adult at home who is present at practice; empty where that is nobody else.
    phone, email, address : str
        How the family is reached; empty where not given.

    Raises
    ------
    Refused
        If there is no name. The message holds none of the values.
    """

    given_names: str
    family_name: str
    birth_date: date
    supporter_name: str = ""
    phone: str = ""
    email: str = ""
    address: str = ""

    def __post_init__(self) -> None:
        """Refuse an identity without a name."""
        if not self.given_names.strip() or not self.family_name.strip():
            remedy = "Fill in both; a code alone is enough where no name may be kept."
            raise Refused([Problem("identity, name", "a part of it is empty", remedy, "identity")])

    def __repr__(self) -> str:
        """Show that it is there, and nothing of it."""
        return "Identity(...)"

    @property
    def full_name(self) -> str:
        """Given names and family name."""
        return f"{self.given_names} {self.family_name}"

    def completed_years(self, today: date) -> int:
        """Count the birthdays up to a day.

        Parameters
        ----------
        today : date
            The day; a birthday on it counts. Born on 29 February counts from 1 March in other
            years.

        Returns
        -------
        int
            Completed years.
        """
        born = self.birth_date
        is_before = (today.month, today.day) < (born.month, born.day)
        return today.year - born.year - is_before


COLUMNS = tuple(each.name for each in fields(Identity))


def to_text(identity: Identity, column: str) -> str:
    """Write one field as text, for sealing."""
    value = getattr(identity, column)
    return value.isoformat() if isinstance(value, date) else value


def from_texts(texts: dict[str, str]) -> Identity:
    """Make an identity of what was unsealed, by column."""
    rest = {name: text for name, text in texts.items() if name != "birth_date"}
    return Identity(birth_date=date.fromisoformat(texts["birth_date"]), **rest)
