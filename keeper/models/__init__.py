"""The book's rows, one file per aggregate."""

from keeper.models.accounts import Account, Role, login_name

__all__ = ["Account", "Role", "login_name"]
