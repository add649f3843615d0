"""Copies are made in a folder of each test's own."""

from pathlib import Path
from typing import Any

import pytest

from tests.keeper.backups.people import enter
from tests.processes import manage


@pytest.fixture
def data(tmp_path: Path, settings: Any, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The data folder, with pictures and copies in it; whatever is encrypted is so quickly."""
    from keeper.domain.backups import sealing

    settings.DATA = tmp_path / "data"
    settings.DATA.mkdir()
    settings.MEDIA_ROOT = settings.DATA / "media"
    monkeypatch.setattr(sealing, "COST", 4)
    monkeypatch.setattr(sealing.seal, "__kwdefaults__", {"cost": 4})
    return tmp_path / "data"


@pytest.fixture(autouse=True)
def _with_its_row(request: pytest.FixtureRequest) -> None:
    """Give the database the book's one row: a test that really commits empties it behind itself."""
    if request.node.get_closest_marker("django_db") is not None:
        from keeper.models import Book

        request.getfixturevalue("_django_db_helper")
        Book.objects.get_or_create(pk=1)


@pytest.fixture(scope="session")
def begun(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The data folder of a book with an account, a picture and a good copy."""
    data = tmp_path_factory.mktemp("book")
    assert manage("migrate", "--verbosity=0", data=data).returncode == 0
    enter(data, "Mara", "mara")
    (data / "media").mkdir()
    (data / "media" / "one.jpg").write_bytes(b"one")
    made = manage("back_up", data=data)
    assert made.returncode == 0, made.stderr
    return data
