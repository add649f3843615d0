"""Settings: safe when nothing is set, and what each variable changes."""

import json
import stat
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from keeper.serving import secrets
from tests.processes import ROOT, environment, manage

_SHOW = (
    "import json, sys; from keeper import settings as s;"
    "print(json.dumps({n: getattr(s, n, None) for n in sys.argv[1:]}, default=str))"
)


def read(data: Path, *names: str, **settings: str) -> dict[str, Any]:
    shown = subprocess.run(
        [sys.executable, "-c", _SHOW, *names],
        env=environment(data, **settings),
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    return dict(json.loads(shown.stdout))


def test_deployment_check_finds_nothing(tmp_path: Path) -> None:
    result = manage("check", "--deploy", "--fail-level", "INFO", data=tmp_path)
    assert (result.returncode, result.stdout.strip(), result.stderr) == (
        0,
        "System check identified no issues (0 silenced).",
        "",
    )


def test_settings_are_safe_when_nothing_is_set(tmp_path: Path) -> None:
    assert read(
        tmp_path,
        *("DEBUG", "ALLOWED_HOSTS", "SESSION_COOKIE_SECURE", "CSRF_COOKIE_SECURE"),
        *("SECURE_SSL_REDIRECT", "SECURE_HSTS_SECONDS", "SECURE_PROXY_SSL_HEADER"),
    ) == {
        "DEBUG": False,
        "ALLOWED_HOSTS": ["localhost", "127.0.0.1"],
        "SESSION_COOKIE_SECURE": True,
        "CSRF_COOKIE_SECURE": True,
        "SECURE_SSL_REDIRECT": True,
        "SECURE_HSTS_SECONDS": 31_536_000,
        "SECURE_PROXY_SSL_HEADER": None,
    }


@pytest.mark.parametrize(
    ("serve", "cookies_secure", "redirects", "seconds"),
    [("loopback", False, False, 0), ("lan", True, False, 0), ("host", True, True, 60)],
)
def test_settings_follow_how_the_book_is_served(
    tmp_path: Path, serve: str, cookies_secure: bool, redirects: bool, seconds: int
) -> None:
    found = read(
        tmp_path,
        *("SESSION_COOKIE_SECURE", "SECURE_SSL_REDIRECT", "SECURE_HSTS_SECONDS"),
        KEPTLINES_SERVE=serve,
        KEPTLINES_HSTS_SECONDS="60",
    )
    assert list(found.values()) == [cookies_secure, redirects, seconds]


def test_settings_take_hosts_proxy_debug_and_zone_from_the_environment(tmp_path: Path) -> None:
    found = read(
        tmp_path,
        *("ALLOWED_HOSTS", "SECURE_PROXY_SSL_HEADER", "DEBUG", "TIME_ZONE"),
        KEPTLINES_HOSTS="book.example,www.book.example",
        KEPTLINES_PROXY="1",
        KEPTLINES_DEBUG="1",
        KEPTLINES_TIME_ZONE="Pacific/Auckland",
    )
    assert list(found.values()) == [
        ["localhost", "127.0.0.1", "book.example", "www.book.example"],
        ["HTTP_X_FORWARDED_PROTO", "https"],
        True,
        "Pacific/Auckland",
    ]


def test_sqlite_is_tuned_for_a_server(tmp_path: Path) -> None:
    database = read(tmp_path, "DATABASES")["DATABASES"]["default"]
    assert database == {
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": str(tmp_path / "book.sqlite3"),
        "CONN_MAX_AGE": 600,
        "CONN_HEALTH_CHECKS": True,
        "OPTIONS": {
            "transaction_mode": "IMMEDIATE",
            "timeout": 20,
            "init_command": (
                "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;"
            ),
        },
    }


def test_sqlite_really_runs_as_it_is_tuned(tmp_path: Path) -> None:
    asked = (
        "from django.db import connection\n"
        "with connection.cursor() as c:\n"
        "    print([c.execute(f'PRAGMA {n}').fetchone()[0] for n in"
        " ('journal_mode', 'synchronous', 'foreign_keys', 'busy_timeout')])"
    )
    result = manage("shell", "--no-imports", "-c", asked, data=tmp_path)
    assert (result.stdout.strip(), result.stderr) == ("['wal', 2, 1, 20000]", "")


def test_database_url_chooses_postgresql(tmp_path: Path) -> None:
    database = read(tmp_path, "DATABASES", DATABASE_URL="postgres://keeper@db.example:5433/book")[
        "DATABASES"
    ]["default"]
    assert {key: database[key] for key in ("ENGINE", "NAME", "HOST", "PORT", "CONN_MAX_AGE")} == {
        "ENGINE": "django.db.backends.postgresql",
        "NAME": "book",
        "HOST": "db.example",
        "PORT": 5433,
        "CONN_MAX_AGE": 600,
    }
    assert database["OPTIONS"] == {
        "options": "-c lock_timeout=20000 -c jit=off -c random_page_cost=1.1"
    }


def test_secret_key_is_made_once_and_private(tmp_path: Path) -> None:
    folder = tmp_path / "new" / "data"
    first = read(folder, "SECRET_KEY")["SECRET_KEY"]
    assert len(first) >= 50
    assert read(folder, "SECRET_KEY")["SECRET_KEY"] == first
    assert stat.S_IMODE((folder / "secret-key").stat().st_mode) == 0o600
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert [path.name for path in folder.iterdir()] == ["secret-key"]


def test_a_folder_of_ours_that_others_may_open_is_closed(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    read(folder, "SECRET_KEY")
    folder.chmod(0o755)
    read(folder, "SECRET_KEY")
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    # One that holds no book is somebody else's.
    other = tmp_path / "other"
    other.mkdir(mode=0o755)
    secrets.private_folder(other)
    assert stat.S_IMODE(other.stat().st_mode) == 0o755


def test_an_empty_key_is_no_key(tmp_path: Path) -> None:
    (tmp_path / "secret-key").write_text("")
    result = manage("check", data=tmp_path)
    assert (result.returncode, result.stdout) == (1, "")
    assert "is empty, though a key was written there once. Put it back from a copy" in (
        result.stderr
    )
    assert "Traceback" not in result.stderr


def test_an_unusable_data_folder_is_one_clear_sentence(tmp_path: Path) -> None:
    in_the_way = tmp_path / "data"
    in_the_way.write_text("a file, not a folder")
    result = manage("check", data=in_the_way)
    assert (result.returncode, result.stdout, result.stderr) == (
        1,
        "",
        f"Keptlines: the data folder {in_the_way} cannot be used: File exists.\n",
    )


def test_an_unknown_way_of_serving_is_one_clear_sentence(tmp_path: Path) -> None:
    result = manage("check", data=tmp_path, KEPTLINES_SERVE="everywhere")
    assert (result.returncode, result.stderr) == (
        1,
        "Keptlines: KEPTLINES_SERVE is 'everywhere'; it must be host, loopback or lan.\n",
    )
