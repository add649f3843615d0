"""Make `.venv` on the first run and hand over to it; standard library only.

Everything else in the project may count on the locked packages. This file may not: it runs
under whatever Python the keeper typed, before anything is installed.
"""

import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
import venv
from collections.abc import Sequence
from pathlib import Path
from typing import Literal, NoReturn

ROOT = Path(__file__).resolve().parents[2]
ENVIRONMENT = ROOT / ".venv"
Kind = Literal["run", "test"]

# Set to "own" by packagers and container builders who install the packages themselves.
OWN_ENVIRONMENT = "KEPTLINES_ENVIRONMENT"
SERVE = "KEPTLINES_SERVE"


class SetUpError(Exception):
    """One clear sentence for the person at the terminal."""


def enter(arguments: Sequence[str]) -> None:
    """Return inside an installed environment, or replace this process by one inside it."""
    command = arguments[0] if arguments else ""
    kind: Kind = "test" if command == "test" else "run"
    if command == "start":
        os.environ[SERVE] = "lan" if "--lan" in arguments else "loopback"
    elif command == "runserver":
        os.environ.setdefault(SERVE, "loopback")
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "keeper.settings")

    own = os.environ.get(OWN_ENVIRONMENT) == "own"
    if not own:
        install(kind)
    interpreter = Path(sys.executable) if own else _interpreter()
    if kind == "test":
        os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
        _hand_over(interpreter, ["-m", "pytest", *arguments[1:]])
    if not own and not _inside():
        _hand_over(interpreter, [str(ROOT / "manage.py"), *arguments])


def install(kind: Kind) -> None:
    """Bring `.venv` to the locked versions, unless its stamp says it is there already."""
    if _is_current(kind):
        return
    _check_modules()
    say = "First start" if not ENVIRONMENT.exists() else "Something is new"
    what = "what the tests need" if kind == "test" else "the locked packages"
    print(f"{say}: fetching {what} into .venv, a few minutes.", flush=True)
    if not _same_python() and not _inside():
        _make_environment()
    for stamp in ENVIRONMENT.glob("installed-*"):
        stamp.unlink()
    _fetch(kind)
    _stamp(kind).write_text(_fingerprint(kind), encoding="ascii")


def _is_current(kind: Kind) -> bool:
    # The test lock contains the run lock, so a tested environment can also serve.
    stamped = ("test",) if kind == "test" else ("run", "test")
    return _same_python() and any(
        _stamp(each).is_file() and _stamp(each).read_text("ascii") == _fingerprint(each)
        for each in stamped
    )


def _stamp(kind: str) -> Path:
    return ENVIRONMENT / f"installed-{kind}"


def _fingerprint(kind: str) -> str:
    digest = hashlib.sha256(repr(sys.version_info[:2]).encode())
    for path in (ROOT / "pyproject.toml", ROOT / ".lock" / f"{kind}.txt"):
        digest.update(path.read_bytes())
    return digest.hexdigest()


def _check_modules() -> None:
    if importlib.util.find_spec("ensurepip") is None:
        raise SetUpError(
            "this Python comes without its venv module; install it (on Debian and Ubuntu: "
            "`apt install python3-venv`) and start again."
        )


def _same_python() -> bool:
    """Whether `.venv` works and was made by this version of Python."""
    version = f"version = {sys.version_info[0]}.{sys.version_info[1]}."
    try:
        made_by = (ENVIRONMENT / "pyvenv.cfg").read_text(encoding="utf-8")
    except OSError:
        return False
    return version in made_by and _interpreter().exists()


def _make_environment() -> None:
    try:
        if ENVIRONMENT.exists():
            shutil.rmtree(ENVIRONMENT)
        venv.EnvBuilder(with_pip=True, symlinks=os.name != "nt").create(ENVIRONMENT)
    except (OSError, subprocess.CalledProcessError) as error:
        raise SetUpError(f"could not make the folder {ENVIRONMENT}: {error}.") from error


def _fetch(kind: Kind) -> None:
    command = [
        *(str(_interpreter()), "-m", "pip", "install", "--quiet", "--no-input"),
        *("--disable-pip-version-check", "--retries", "2", "--timeout", "30"),
        *("--require-hashes", "--only-binary", ":all:"),
        *("--requirement", str(ROOT / ".lock" / f"{kind}.txt")),
    ]
    log = ENVIRONMENT / "install.log"
    with log.open("w", encoding="utf-8") as output:
        done = subprocess.run(
            command, stdout=output, stderr=subprocess.STDOUT, env=_quiet_pip(), check=False
        )
    if done.returncode:
        raise SetUpError(
            "the packages could not be fetched; check the connection to the internet and the "
            f"space on the disk, then start again ({_last_words(log)}; more in .venv/install.log)."
        )


def _quiet_pip() -> dict[str, str]:
    """Return the environment without the settings that send packages elsewhere."""
    misleading = {"PIP_USER", "PIP_TARGET", "PIP_PREFIX", "PYTHONHOME", "PYTHONPATH"}
    return {key: value for key, value in os.environ.items() if key not in misleading} | {
        "PIP_USER": "0"
    }


def _last_words(log: Path) -> str:
    lines = log.read_text(encoding="utf-8", errors="replace").splitlines()
    errors = [line.removeprefix("ERROR:").strip() for line in lines if line.startswith("ERROR:")]
    return (errors or lines or ["pip said nothing"])[-1].rstrip(".")


def _interpreter() -> Path:
    return ENVIRONMENT / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def _inside() -> bool:
    return Path(sys.prefix).resolve() == ENVIRONMENT.resolve()


def _hand_over(interpreter: Path, arguments: list[str]) -> NoReturn:
    command = [str(interpreter), *arguments]
    if arguments[0] == "-m":
        os.chdir(ROOT)
    if os.name != "nt":
        os.execv(interpreter, command)
    # Windows has no exec that keeps the terminal, so wait and pass the result on.
    try:
        sys.exit(subprocess.run(command, check=False).returncode)
    except KeyboardInterrupt:
        sys.exit(130)
