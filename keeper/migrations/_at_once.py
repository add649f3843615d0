"""Many tables in one step."""

from typing import Any

from django.db.migrations.operations.base import Operation, OperationCategory
from django.db.migrations.operations.models import CreateModel
from django.db.migrations.state import ProjectState


class CreateModels(Operation):
    """Create models that refer to one another as they please.

    Django draws every model that is related to a new one anew after each step, which with a hundred
    related models takes longer than all the rest of a new book; here they are drawn once, at the end.
    """

    category = OperationCategory.ADDITION

    def __init__(self, models: list[CreateModel]) -> None:
        self.models = models

    def deconstruct(self) -> tuple[str, list[Any], dict[str, Any]]:
        """Return how this was made."""
        return type(self).__qualname__, [self.models], {}

    def state_forwards(self, app_label: str, state: ProjectState) -> None:
        """Add the models to a state that draws them when it is asked next."""
        state.__dict__.pop("apps", None)
        for model in self.models:
            model.state_forwards(app_label, state)

    def database_forwards(
        self, app_label: str, schema_editor: Any, from_state: ProjectState, to_state: ProjectState
    ) -> None:
        """Create the tables; what refers to a later one is tied to it at the end of the migration."""
        for model in self.models:
            model.database_forwards(app_label, schema_editor, from_state, to_state)

    def database_backwards(
        self, app_label: str, schema_editor: Any, from_state: ProjectState, to_state: ProjectState
    ) -> None:
        """Drop the tables, the last first."""
        for model in reversed(self.models):
            model.database_backwards(app_label, schema_editor, from_state, to_state)

    def describe(self) -> str:
        """Return what is done."""
        return f"Create {len(self.models)} models"
