"""What the pages of people show: who may do what, in words, and where they are logged in."""

from dataclasses import dataclass

from keeper.domain.accounts import log_ins, passkeys, second_factor
from keeper.domain.accounts.log_ins import Open
from keeper.domain.accounts.reached import Reached
from keeper.models import Account, Passkey
from keeper.pages.accounts.passkey_forms import AnswerForm


@dataclass(frozen=True)
class PersonPage:
    """One account, as its owner sees it and as the owner of the book does.

    Attributes:
        person: the account.
        may: what it may do and see, a sentence each.
        log_ins: where it is logged in.
        has_second_factor: whether it is asked for a code.
        codes_left: how many recovery codes are left.
        passkeys: how many passkeys there are.
    """

    person: Account
    may: tuple[str, ...]
    log_ins: tuple[Open, ...]
    has_second_factor: bool
    codes_left: int
    passkeys: int


def person_page(person: Account, *, this: str | None) -> PersonPage:
    """Return the page's data; `this` is the session of who asks."""
    return PersonPage(
        person,
        in_words(person),
        tuple(log_ins.log_ins_of(person, this=this)),
        second_factor.has_second_factor(person),
        second_factor.codes_left(person),
        passkeys.of_account(person).count(),
    )


@dataclass(frozen=True)
class PasskeysPage:
    """One's own passkeys.

    Attributes:
        at: how the book is reached.
        listed: each passkey, and whether it is of another host name than this.
        can_show: whether one of them can be shown here, as a proof.
        has_second_factor: whether the password alone lets nobody in.
    """

    at: Reached
    listed: tuple[tuple[Passkey, bool], ...]
    can_show: bool
    has_second_factor: bool


def passkeys_page(person: Account, at: Reached) -> PasskeysPage:
    """Return the page's data."""
    listed = tuple((one, one.host != at.host) for one in passkeys.of_account(person))
    return PasskeysPage(
        at,
        listed,
        any(not elsewhere and one.went_back_on is None for one, elsewhere in listed),
        second_factor.has_second_factor(person),
    )


@dataclass(frozen=True)
class PasskeyWay:
    """A passkey as a way in.

    Attributes:
        form: takes what the device answers; None where none can be shown.
        elsewhere: whether the book has passkeys, and all are for another address.
    """

    form: AnswerForm | None
    elsewhere: bool = False


def passkey_for_log_in(at: Reached, form: AnswerForm | None = None) -> PasskeyWay:
    """Return whether a passkey can be shown in place of name and password.

    A form that came back is shown again.
    """
    used = passkeys.are_used(at)
    return PasskeyWay((form or AnswerForm()) if used or form else None, elsewhere=used is None)


def passkey_for_code(person: Account, at: Reached, form: AnswerForm | None = None) -> PasskeyWay:
    """Return whether somebody can show a passkey in place of the code."""
    can = bool(at.host) and passkeys.usable(person, at).exists()
    return PasskeyWay((form or AnswerForm()) if can or form else None)


def in_words(person: Account) -> tuple[str, ...]:
    """Return what an account may do and see, a sentence each."""
    if person.is_owner:
        return ("Reads and writes everything, and decides about the accounts.",)
    writes = (
        "Reads the book and writes in it; takes back only what they wrote themselves."
        if person.may_write
        else "Reads the book and writes nothing."
    )
    people = (
        "Sees sources, buyers and sellers, how to reach them, papers, sheets and prospects."
        if person.may_see_people
        else "Sees no sources, buyers or sellers: “a contact” stands in their place, also in the "
        "daybook. Papers, sheets and prospects are closed. How far a source is trusted can show in "
        "a figure, never whose word it is."
    )
    prices = "Sees prices." if person.may_see_prices else "Sees no prices."
    return (writes, people, prices)


@dataclass(frozen=True)
class Drawing:
    """A QR code as the path of a picture: so many squares wide and high, its margin among them."""

    size: int
    path: str


def drawing_of(text: str) -> Drawing:
    """Return the QR code of a text, with the margin of four squares that readers need."""
    import segno  # no other page needs it

    rows = list(segno.make(text, error="m").matrix_iter(border=4))
    dark = "".join(
        f"M{x} {y}h1v1h-1z" for y, row in enumerate(rows) for x, one in enumerate(row) if one
    )
    return Drawing(len(rows), dark)


NOTES = (
    "Notes, reasons and captions are shown to everyone as they were typed: what is nobody’s "
    "business does not belong there."
)
