"""The tests' database is what the migrations make, however often it was copied."""

from pathlib import Path
from types import SimpleNamespace

import pytest
from django.core.management import call_command

from tests import database


@pytest.mark.django_db
def test_copy_has_every_migration(capsys: pytest.CaptureFixture[str]) -> None:
    call_command("migrate", check_unapplied=True)  # ends the process if one is missing
    assert capsys.readouterr().out == ""


def test_another_migration_makes_another_template(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "migrations").mkdir()
    first = tmp_path / "migrations" / "0001_first.py"
    first.write_text("one", encoding="utf-8")
    app = SimpleNamespace(name="book", path=str(tmp_path))
    monkeypatch.setattr(database, "apps", SimpleNamespace(get_app_configs=lambda: [app]))
    names = [database._digest()]
    first.write_text("other", encoding="utf-8")
    names.append(database._digest())
    (tmp_path / "migrations" / "0002_second.py").write_text("two", encoding="utf-8")
    names.append(database._digest())
    first.write_text("one", encoding="utf-8")
    (tmp_path / "migrations" / "0002_second.py").unlink()
    assert len(set(names)) == 3
    assert database._digest() == names[0]
