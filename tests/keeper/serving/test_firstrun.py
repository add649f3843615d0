"""The first run, from the bare interpreter: what is made, what is kept, what is said."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from keeper.serving import firstrun
from tests.processes import ROOT

# The interpreter that the test environment was made from: it has no packages of ours.
BARE = getattr(sys, "_base_executable", sys.executable)


@pytest.fixture
def clone(tmp_path: Path) -> Path:
    """A fresh copy of what a first run reads."""
    folder = tmp_path / "book"
    (folder / "keeper").mkdir(parents=True)
    shutil.copytree(ROOT / "keeper" / "serving", folder / "keeper" / "serving")
    shutil.copytree(ROOT / ".lock", folder / ".lock")
    for name in ("manage.py", "pyproject.toml", "keeper/__init__.py"):
        shutil.copy(ROOT / name, folder / name)
    return folder


def run(clone: Path, *before: str, **settings: str) -> subprocess.CompletedProcess[str]:
    kept = ("PATH", "SYSTEMROOT")
    bare = {name: os.environ[name] for name in kept if name in os.environ}
    return subprocess.run(
        [BARE, *(before or ("manage.py", "start", "--no-browser"))],
        cwd=clone,
        env=bare | {"HOME": str(clone.parent)} | settings,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        stdin=subprocess.DEVNULL,
    )


def test_first_run_says_when_nothing_can_be_fetched(clone: Path) -> None:
    result = run(clone, PIP_NO_INDEX="1", PIP_FIND_LINKS=str(clone))
    assert (result.returncode, result.stdout) == (
        1,
        "First start: fetching the locked packages into .venv, a few minutes.\n",
    )
    assert result.stderr.startswith(
        "Keptlines: the packages could not be fetched; check the connection to the internet and "
        "the space on the disk, then start again (No matching distribution found for "
    )
    assert result.stderr.count("\n") == 1
    assert not list((clone / ".venv").glob("installed-*"))


def test_first_run_says_when_the_venv_module_is_missing(clone: Path) -> None:
    hide = (
        "import importlib.util as u, sys; real = u.find_spec;"
        "u.find_spec = lambda name, *a: None if name == 'ensurepip' else real(name, *a);"
        "sys.path.insert(0, ''); import manage; manage.main(['start'])"
    )
    result = run(clone, "-c", hide)
    assert (result.returncode, result.stdout, result.stderr) == (
        1,
        "",
        "Keptlines: this Python comes without its venv module; install it (on Debian and "
        "Ubuntu: `apt install python3-venv`) and start again.\n",
    )
    assert not (clone / ".venv").exists()


@pytest.mark.parametrize(("version", "shown"), [((3, 10, 4), "3.10"), ((3, 15, 0), "3.15")])
def test_first_run_says_when_the_python_does_not_fit(
    clone: Path, version: tuple[int, ...], shown: str
) -> None:
    pretend = (
        f"import sys; sys.version_info = {version}; sys.path.insert(0, '');"
        "import runpy; runpy.run_path('manage.py', run_name='__main__')"
    )
    result = run(clone, "-c", pretend)
    assert (result.returncode, result.stdout, result.stderr) == (
        1,
        "",
        f"Keptlines needs Python 3.11 to 3.14, and this is Python {shown}: "
        "start it with another one, for example `python3.11 manage.py start`.\n",
    )


def test_first_run_says_when_the_folder_cannot_be_written(
    clone: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(firstrun, "ENVIRONMENT", clone / "manage.py" / ".venv")
    with pytest.raises(firstrun.SetUpError, match=r"^could not make the folder .*: .*\.$"):
        firstrun._make_environment()


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """A project folder in which making and fetching only leave a note."""
    done: list[str] = []
    environment = tmp_path / ".venv"

    def make() -> None:
        done.append("make")
        shutil.rmtree(environment, ignore_errors=True)
        (environment / "bin").mkdir(parents=True)
        (environment / "bin" / "python").touch()
        major, minor = sys.version_info[:2]
        (environment / "pyvenv.cfg").write_text(f"version = {major}.{minor}.0\n")

    (tmp_path / ".lock").mkdir()
    for name in ("pyproject.toml", ".lock/run.txt", ".lock/test.txt"):
        (tmp_path / name).write_text(name)
    monkeypatch.setattr(firstrun, "ROOT", tmp_path)
    monkeypatch.setattr(firstrun, "ENVIRONMENT", environment)
    monkeypatch.setattr(firstrun, "_interpreter", lambda: environment / "bin" / "python")
    monkeypatch.setattr(firstrun, "_make_environment", make)
    monkeypatch.setattr(firstrun, "_fetch", lambda kind: done.append(f"fetch {kind}"))
    return done


def test_install_does_nothing_the_second_time(here: list[str]) -> None:
    firstrun.install("run")
    firstrun.install("run")
    assert here == ["make", "fetch run"]


def test_install_for_tests_serves_for_running_too(here: list[str]) -> None:
    firstrun.install("run")
    firstrun.install("test")
    firstrun.install("run")
    assert here == ["make", "fetch run", "fetch test"]


@pytest.mark.parametrize("changed", ["pyproject.toml", ".lock/run.txt"])
def test_install_fetches_again_when_the_locks_change(here: list[str], changed: str) -> None:
    firstrun.install("run")
    (firstrun.ROOT / changed).write_text("changed")
    firstrun.install("run")
    assert here == ["make", "fetch run", "fetch run"]


def test_install_starts_over_after_it_was_cut_off(
    here: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def cut_off(kind: str) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(firstrun, "_fetch", cut_off)
        with pytest.raises(KeyboardInterrupt):
            firstrun.install("run")
    firstrun.install("run")
    assert here == ["make", "fetch run"]


@pytest.mark.parametrize("broken", ["other Python", "interpreter gone"])
def test_install_makes_the_environment_anew(here: list[str], broken: str) -> None:
    firstrun.install("run")
    if broken == "other Python":
        (firstrun.ENVIRONMENT / "pyvenv.cfg").write_text("version = 3.1.0\n")
    else:
        (firstrun.ENVIRONMENT / "bin" / "python").unlink()
    firstrun.install("run")
    assert here == ["make", "fetch run", "make", "fetch run"]


@pytest.mark.parametrize(
    ("arguments", "serve"),
    [(["start"], "loopback"), (["start", "--lan"], "lan"), (["check"], None)],
)
def test_enter_sets_how_the_book_is_served(
    monkeypatch: pytest.MonkeyPatch, arguments: list[str], serve: str | None
) -> None:
    monkeypatch.delenv("KEPTLINES_SERVE", raising=False)
    monkeypatch.setenv("KEPTLINES_ENVIRONMENT", "own")
    firstrun.enter(arguments)
    assert os.environ.get("KEPTLINES_SERVE") == serve
