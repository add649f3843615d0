"""Whose a signed file is: a contact whose key is known, or was compared; perhaps a new one."""

from collections.abc import Container
from fractions import Fraction

from keeper.domain.book.writing import Refused, Writing
from keeper.models import Contact


def signer(
    book: Writing,
    *,
    of: str,
    printed: str,
    known: Container[Contact],
    source: Contact | None,
    name: str,
    reach: str,
    trust: Fraction,
    key_compared: bool,
) -> Contact:
    """Return whose file it is, as of now; one that is named anew is kept, trusted so far.

    `of` says what it is, a paper or a report, and `printed` which fingerprint its own is compared
    with; `known` are those who signed with that key before.

    Raises:
        Refused: the key was not compared, or nobody was named.
    """
    if not key_compared and (source is None or source not in known):
        raise Refused(
            f"No {of} of this source was signed with that key before. Compare its fingerprint with "
            f"{printed}, and say that they are the same."
        )
    if source is not None:
        return book.now(source)
    if not name.strip():
        raise Refused(f"Say whose {of} it is: choose a contact, or name a new one.")
    return book.keep(Contact(name=name.strip(), reach=reach[:200], reliability=str(trust)))
