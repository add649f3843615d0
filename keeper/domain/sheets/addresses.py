"""Where the public page of a sheet is, if the book has a public address."""

from django.conf import settings

# The same path in the book and in the folder of static pages, so that one address fits both.
PAPERS = "papers"


def address_of(page_code: str) -> str:
    """Return the address of a public page; nothing where no public address is configured."""
    public: str = settings.PUBLIC_ADDRESS
    return f"{public}/{PAPERS}/{page_code}/" if public and page_code else ""
