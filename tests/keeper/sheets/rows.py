"""Rows that sale sheets are made from: standings said outright instead of computed."""

from typing import Any

import pypdfium2

from keeper.models import Account, Animal, DaybookEntry, Dispute, Line, Standing, Trait


def stand(
    animal: Animal,
    of: Trait | Line,
    by: Account,
    *,
    two: float = 0.0,
    one: float = 0.0,
    word: str = "possible",
    **given: Any,
) -> Standing:
    """Give an animal a standing in a trait, or in a line and in its trait alike."""
    entry = DaybookEntry.objects.create(by=by, what="computed")
    line = of if isinstance(of, Line) else None
    values = {"two": two, "one": one, "none": 1 - two - one, "word": word, "entry": entry} | given
    if two + one == 1:
        values["none"] = 0.0
    if line is not None:
        Standing.objects.create(animal=animal, trait=line.trait, line=line, **values)
    trait = of.trait if isinstance(of, Line) else of
    whole, _ = Standing.objects.get_or_create(
        animal=animal, trait=trait, line=None, defaults=values
    )
    return whole


def dispute_of(animal: Animal, by: Account) -> Dispute:
    """Open a dispute about an animal's records."""
    entry = DaybookEntry.objects.create(by=by, what="computed")
    return Dispute.objects.create(
        species=animal.species,
        conflict=[{"model": "observation", "pk": 1, "text": "Saltgrass seen"}],
        fingerprint=f"of {animal.pk}",
        opened=entry,
    )


def text_of_pdf(pdf: bytes) -> tuple[int, str]:
    """Return the pages of a PDF and its text, in one line without breaks inside words."""
    document = pypdfium2.PdfDocument(pdf)
    text = " ".join(page.get_textpage().get_text_bounded() for page in document)
    for odd in ("\u200b", "\ufffe"):
        text = text.replace(odd, "")
    return len(document), " ".join(text.replace("\u00a0", " ").split())
