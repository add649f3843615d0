"""Keeping what the book says of a clutch's looks, when its hatch is first logged."""

from keeper.domain import inference
from keeper.domain.book.writing import Writing
from keeper.models import Clutch, Foretold, HatchRow


def keep_foretold(book: Writing, clutch: Clutch) -> None:
    """Keep what is said of a clutch of which nothing has hatched yet; once and for all.

    Called before anything of the hatch is written. What cannot be worked out is not kept.
    """
    if Foretold.objects.live().filter(clutch=clutch).exists():
        return
    if HatchRow.objects.live().filter(clutch=clutch).exists():
        return
    try:
        told = inference.foretell(clutch)
    except inference.Unanswerable:
        return
    if told is None:
        return
    book.keep(
        Foretold(
            clutch=clutch,
            sires=[[one.share, one.parts] for one in told.sires],
            each=told.each,
            sons=told.sons,
            exact=told.exact,
        )
    )
