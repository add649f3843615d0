"""What was possible and very unlikely: looked at by the keeper, or pointed out once more."""

from keeper.domain.book.writing import Refused, writing
from keeper.models import Account, DaybookEntry, Surprise


def look_at(*, surprise: Surprise, by: Account) -> DaybookEntry:
    """Note that somebody looked into it: it is not pointed out any more.

    Raises:
        Refused: somebody did already.
    """
    return _note(surprise, f"Looked at what was unlikely: {surprise}", by, looked_at=True)


def point_out(*, surprise: Surprise, by: Account) -> DaybookEntry:
    """Point it out again, as if nobody had looked.

    Raises:
        Refused: it is pointed out as it is.
    """
    return _note(surprise, f"To be looked at again: {surprise}", by, looked_at=False)


def _note(surprise: Surprise, what: str, by: Account, *, looked_at: bool) -> DaybookEntry:
    # A surprise is worked out, no record that is entered: the entry alone keeps who looked.
    subject = surprise.clutch or surprise.animal
    with writing(by=by, what=what, subject=subject, of_records=False) as book:
        surprise.refresh_from_db(fields=["looked_at"])
        if looked_at and surprise.looked_at_id is not None:
            raise Refused(
                "Somebody has looked at this already. Point it out again if it needs another look."
            )
        if not looked_at and surprise.looked_at_id is None:
            raise Refused("This is pointed out already. It stands under Disputes.")
        surprise.looked_at = book.entry if looked_at else None
        surprise.save(update_fields=["looked_at"])
    return book.entry
