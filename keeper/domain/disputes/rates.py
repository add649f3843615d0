"""How often things go wrong in this book: the keeper's own rates, and back to the common ones."""

from keeper.domain.book.writing import Refused, writing
from keeper.models import Account, BaseRate, DaybookEntry, Mishap


def own_rate(mishap: Mishap) -> BaseRate | None:
    """Return the keeper's own rate of one kind of thing; None where the common one counts."""
    found: BaseRate | None = BaseRate.objects.live().filter(mishap=mishap).first()
    return found


def own_rates_ever(mishap: Mishap) -> list[BaseRate]:
    """Return every rate that the keeper held it to be, those that were taken back among them."""
    return list(BaseRate.objects.filter(mishap=mishap).order_by("pk"))


def keep_rate(*, rate: BaseRate, by: Account, reason: str = "") -> DaybookEntry:
    """Hold to a rate of one's own from now on; explanations are weighed by it.

    Raises:
        ValidationError: it is no chance between 0 and 100 %, or has no ground.
    """
    with writing(by=by, what=f"Set {rate} to {rate.chance}", reason=reason) as book:
        book.keep(rate)
    return book.entry


def reset_rate(*, mishap: Mishap, by: Account) -> DaybookEntry:
    """Go by the common figure again.

    Raises:
        Refused: it is gone by already.
    """
    what = f"Went back to the common rate of {mishap.label}"
    with writing(by=by, what=what) as book:
        rate = own_rate(mishap)
        if rate is None:
            raise Refused("The common figure counts already. Enter your own to change it.")
        book.withdraw(rate, reason="the common figure counts again")
    return book.entry
