"""Settings of the tests: the real ones on throw-away data, with quick passwords."""

import atexit
import os
import shutil
import tempfile
from importlib.util import find_spec
from pathlib import Path

_FOLDER = Path(tempfile.mkdtemp(prefix="keptlines-tests-"))
atexit.register(shutil.rmtree, _FOLDER, ignore_errors=True)

# Before the real settings are read: nothing of the keeper's own may reach a test.
for _name in [name for name in os.environ if name.startswith("KEPTLINES_")]:
    if _name not in ("KEPTLINES_ENVIRONMENT", "KEPTLINES_EXAMPLES", "KEPTLINES_CHROMIUM"):
        del os.environ[_name]
os.environ |= {
    "KEPTLINES_DATA": str(_FOLDER),
    "KEPTLINES_SERVE": "loopback",
    "KEPTLINES_TIME_ZONE": "UTC",
    # Playwright's event loop runs in the thread that also makes the test database.
    "DJANGO_ALLOW_ASYNC_UNSAFE": "true",
}

from keeper.settings import *  # noqa: E402, F403
from keeper.settings import DATABASES, INSTALLED_APPS, SQLITE_TUNING  # noqa: E402

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]

if "sqlite3" in DATABASES["default"]["ENGINE"]:
    # A file, not memory: the browser's server then has connections of its own, as in real life.
    DATABASES["default"]["TEST"] = {"NAME": str(_FOLDER / "test.sqlite3")}
    # Surviving a power cut is not what these tests are about; another test reads the real tuning.
    DATABASES["default"]["OPTIONS"] = SQLITE_TUNING | {
        "init_command": SQLITE_TUNING["init_command"].replace("=FULL", "=OFF")
    }

WORK_IN_BACKGROUND = False

if "postgresql" in DATABASES["default"]["ENGINE"] and find_spec("django_tasks_db") is not None:
    # Its tables are there; work goes through it only where a test says so.
    INSTALLED_APPS = [*INSTALLED_APPS, "django_tasks", "django_tasks_db"]
    TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}
