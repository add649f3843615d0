"""Views of the collection that somebody named. Each account has its own."""

from django.core.exceptions import ValidationError

from keeper.models import Account, SavedView


def save_view(*, account: Account, name: str, query: str) -> SavedView:
    """Name the filters of an address.

    Raises:
        ValidationError: the name is empty, too long, or names another view of this account.
    """
    return _checked(SavedView(account=account, name=name.strip(), query=query))


def rename_view(*, view: SavedView, name: str) -> SavedView:
    """Give a view another name; raise ValidationError as for `save_view`."""
    view.name = name.strip()
    return _checked(view)


def remove_view(*, view: SavedView) -> None:
    """Forget a view; the animals in it are not touched."""
    view.delete()


def _checked(view: SavedView) -> SavedView:
    view.full_clean(validate_constraints=False)
    others = SavedView.objects.filter(account=view.account).exclude(pk=view.pk)
    if others.filter(name__iexact=view.name).exists():
        raise ValidationError(
            {"name": f"You have a view called {view.name} already. Choose another name."}
        )
    view.save()
    return view
