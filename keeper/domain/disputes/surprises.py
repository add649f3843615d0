"""What was possible and very unlikely: looked at by the keeper, or pointed out once more."""

from keeper.domain.book.writing import Refused, writing
from keeper.models import Account, DaybookEntry, Surprise


def look_at(*, surprise: Surprise, by: Account) -> DaybookEntry:
    """Note that somebody looked into it: it is not pointed out any more.

    Raises:
        Refused: somebody did already.
    """
    if _now(surprise).looked_at is not None:
        raise Refused("Somebody has looked at this already.")
    return _note(surprise, f"Looked at what was unlikely: {surprise}", by, looked_at=True)


def point_out(*, surprise: Surprise, by: Account) -> DaybookEntry:
    """Point it out again, as if nobody had looked.

    Raises:
        Refused: it is pointed out as it is.
    """
    if _now(surprise).looked_at is None:
        raise Refused("This is pointed out already.")
    return _note(surprise, f"To be looked at again: {surprise}", by, looked_at=False)


def _now(surprise: Surprise) -> Surprise:
    return Surprise.objects.select_related("looked_at").get(pk=surprise.pk)


def _note(surprise: Surprise, what: str, by: Account, *, looked_at: bool) -> DaybookEntry:
    # A surprise is worked out, no record that is entered: the entry alone keeps who looked.
    with writing(by=by, what=what, subject=surprise.clutch or surprise.animal) as book:
        surprise.looked_at = book.entry if looked_at else None
        surprise.save(update_fields=["looked_at"])
    return book.entry
