"""Files of imports in a folder of the test's own, and writing that ends before the test goes on."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from keeper.domain.imports import running
from keeper.models import Account, Import

Bring = Callable[[Import], Import]


@pytest.fixture(autouse=True)
def _own_media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def bring(owner: Account, django_capture_on_commit_callbacks: Any) -> Bring:
    """Write an import, and return it as it is afterwards."""

    def act(one: Import) -> Import:
        one.refresh_from_db()
        with django_capture_on_commit_callbacks(execute=True):
            running.start(one=one, version=one.version, by=owner)
        one.refresh_from_db()
        return one

    return act
