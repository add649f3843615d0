"""Where sessions are kept: in the database, each with whose it is, so that they can be listed.

Ending a log-in deletes its row; whoever comes with its cookie is a stranger from then on.
"""

from typing import Any

from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore as InDatabase

from keeper.models import LogIn


class SessionStore(InDatabase):
    """Django's sessions in the database, with the account of whoever is logged in."""

    @classmethod
    def get_model_class(cls) -> type[LogIn]:
        """Return the rows."""
        return LogIn

    def create_model_instance(self, data: Any) -> Any:
        """Return the row of a session, with its account."""
        row: Any = super().create_model_instance(data)
        row.account_id = int(data[SESSION_KEY]) if data.get(SESSION_KEY) else None
        return row
