"""Invitations: a link that the owner passes on, by which somebody makes an account of their own.

The app sends no mail. The link is told once, when it is made; the book keeps a digest of its token,
from which the link cannot be made again.
"""

import hashlib
import secrets
from datetime import timedelta

from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.utils import timezone

from keeper.domain.accounts.writes import checked, refuse_taken_name
from keeper.domain.book.writing import Refused, writing
from keeper.models import Account, DaybookEntry, Invitation, Role

OPEN_FOR = timedelta(days=7)
_OVER = (
    "This invitation is over: it was used, taken back, or is older than seven days. Ask the owner "
    "of the book for a new one."
)


def invite(
    *, role: str, sees_people: bool, sees_prices: bool, meant_for: str = "", by: Account
) -> tuple[str, Invitation]:
    """Make an invitation; return the token of its link, which is told this once.

    Raises:
        ValidationError: nobody is invited to be that.
    """
    if role not in (Role.HELPER, Role.VIEWER):
        raise ValidationError({"role": "Choose helper or viewer."})
    token = secrets.token_urlsafe(24)
    made = timezone.now()
    invitation = Invitation(
        digest=_digest(token),
        role=role,
        sees_people=sees_people,
        sees_prices=sees_prices,
        meant_for=meant_for.strip(),
        made_by=by,
        made_at=made,
        ends_at=made + OPEN_FOR,
    )
    whom = f", meant for {invitation.meant_for}" if invitation.meant_for else ""
    with writing(by=by, what=f"Invited a {invitation.role}{whom}", of_records=False):
        invitation.save()
    return token, invitation


def open_invitations() -> QuerySet[Invitation]:
    """Return the invitations by which somebody may still come, the newest first."""
    return Invitation.objects.filter(
        taken_by=None, withdrawn_at=None, ends_at__gt=timezone.now()
    ).select_related("made_by")


def invitation_of(token: str) -> Invitation | None:
    """Return the open invitation of a link, or None."""
    return open_invitations().filter(digest=_digest(token)).first()


def take_back(*, invitation: Invitation, by: Account) -> DaybookEntry:
    """Close an invitation that nobody has used.

    Raises:
        Refused: somebody has, or it is over.
    """
    with writing(by=by, what="Took an invitation back", of_records=False) as book:
        invitation = Invitation.objects.get(pk=invitation.pk)
        if not invitation.is_open(timezone.now()):
            raise Refused("That invitation is over already. Look at who has an account.")
        invitation.withdrawn_at = timezone.now()
        invitation.save(update_fields=["withdrawn_at"])
    return book.entry


def join(*, token: str, name: str, password: str) -> Account:
    """Make the account of whoever comes by an invitation; the invitation is used up.

    Raises:
        Refused: the invitation is over.
        NameTaken: there is an account of this name.
        ValidationError: the name is none.
    """
    found = invitation_of(token)
    if found is None:
        raise Refused(_OVER)
    account = Account(
        name=name,
        role=found.role,
        sees_people=found.sees_people,
        sees_prices=found.sees_prices,
    )
    account = checked(account, password)
    what = f"{account.name} came by an invitation of {found.made_by}"
    with writing(by=None, what=what, of_records=False) as book:
        # Read again after the lock: of two who use one link at the same moment, one is too late.
        found = Invitation.objects.select_related("made_by").get(pk=found.pk)
        if not found.is_open(timezone.now()):
            raise Refused(_OVER)
        refuse_taken_name(account)
        account.save()
        found.taken_by = account
        found.save(update_fields=["taken_by"])
        book.entry.by = account
        book.entry.save(update_fields=["by"])
    return account


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
