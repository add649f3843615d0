"""A row of a signed paper, as it would have come from another book."""

import base64
from datetime import date

from keeper import models as m


def came_with(sheet: m.Sheet) -> m.SignedPaper:
    """Keep what a sheet signs as if it were the paper of somebody else; it tells nothing here."""
    assert sheet.key is not None
    paper = m.SignedPaper(
        source=m.Contact.objects.live().first() or m.Contact.objects.create(name="Osk"),
        animal=sheet.animal,
        brings="animal",
        signed=base64.b64encode(bytes(sheet.signed or b"")).decode(),
        signature=base64.b64encode(bytes(sheet.signature or b"")).decode(),
        public=base64.b64encode(bytes(sheet.key.public)).decode(),
        fingerprint=sheet.key.fingerprint,
        digest=sheet.digest,
        on=date(2026, 6, 1),
    )
    paper.save()
    return paper
