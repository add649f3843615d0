"""Where the public page of a sheet is, if the book has a public address."""

import secrets

from django.conf import settings

# The same path in the book and in the folder of static pages, so that one address fits both.
PAPERS = "papers"
# No letters or figures that can be mistaken for one another on paper.
_ALPHABET = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
# Of 31 letters so many are 128 random bits.
PAGE_CODE_LENGTH = 26


def new_code(length: int = PAGE_CODE_LENGTH) -> str:
    """Return letters drawn at random; of a public page so many that nobody can guess it."""
    return "".join(secrets.choice(_ALPHABET) for _ in range(length))


def address_of(page_code: str) -> str:
    """Return the address of a public page; nothing where no public address is configured."""
    public: str = settings.PUBLIC_ADDRESS
    return f"{public}/{PAPERS}/{page_code}/" if public and page_code else ""
