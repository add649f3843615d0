"""How many processes a run of the tests gets."""

from argparse import Namespace
from pathlib import Path
from typing import Any

import pytest

from tests import workers
from tests.guards.tree import ROOT


class Asked:
    """A run as pytest's configuration describes it."""

    workerinput: dict[str, str]

    def __init__(self, *arguments: str, **options: Any) -> None:
        self.args = list(arguments)
        usual = {
            **{"numprocesses": None, "dist": "no", "tx": []},
            **{"keyword": "", "collectonly": False, "usepdb": False},
        }
        self.option = Namespace(**usual | options)


def shared_out(asked: Any) -> tuple[Any, str]:
    workers.share_out(asked)
    return asked.option.numprocesses, asked.option.dist


@pytest.mark.parametrize("arguments", [["tests"], ["tests/keeper"], ["tests/genetics", "tests"]])
def test_many_files_get_all_cores(arguments: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    assert shared_out(Asked(*arguments)) == ("auto", "worksteal")


@pytest.mark.parametrize(
    "asked",
    [
        Asked("tests/guards"),
        Asked("tests/guards/test_sizes.py"),
        Asked("tests/guards/test_workers.py::test_few_files_or_a_search_get_one"),
        Asked("tests", keyword="hatch"),
        Asked("tests", collectonly=True),
        Asked("tests", usepdb=True),
        Asked("tests", lf=True),
        Asked("tests", stepwise=True),
    ],
    ids=lambda asked: f"{asked.args} {[k for k, v in vars(asked.option).items() if v]}",
)
def test_few_files_or_a_search_get_one(asked: Asked, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    assert shared_out(asked) == (None, "no")


def test_what_is_asked_for_is_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    assert shared_out(Asked("tests", numprocesses=0)) == (0, "no")
    assert shared_out(Asked("tests", numprocesses=3, dist="loadfile")) == (3, "loadfile")
    assert shared_out(Asked("tests", dist="loadfile")) == ("auto", "loadfile")


def test_a_worker_gets_no_workers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    worker = Asked("tests")
    worker.workerinput = {"workerid": "gw0"}
    assert shared_out(worker) == (None, "no")


def test_without_the_plugin_nothing_is_chosen(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    alone = Asked("tests")
    del alone.option.numprocesses
    workers.share_out(alone)  # type: ignore[arg-type]
    assert not hasattr(alone.option, "numprocesses")


def test_files_are_counted_once(tmp_path: Path) -> None:
    for name in ("test_one.py", "test_two.py", "rows.py"):
        (tmp_path / name).touch()
    both = [str(tmp_path), f"{tmp_path}/test_one.py::test_it"]
    assert workers.files_in(both) == 2


class Named:
    """A test as far as the order of a run looks at it."""

    def __init__(self, file: str, number: int) -> None:
        self.nodeid = f"{file}::test_{number}"


def in_order(count: int) -> tuple[list[Any], list[Any]]:
    """Tests of the longest files strewn among thirty others, before and after."""
    long = [Named(file, number) for number, file in enumerate(reversed(workers.LONGEST))]
    before: list[Any] = [Named(f"tests/test_{number}.py", number) for number in range(30)]
    for place, test in enumerate(long):
        before.insert(3 * place, test)
    after = list(before)
    asked: Any = Asked("tests")
    asked.workerinput = {"workercount": count}
    workers.longest_first(asked, after)
    return before, after


@pytest.mark.parametrize("count", [2, 3, 4])
def test_every_worker_begins_with_its_share_of_the_longest(count: int) -> None:
    before, after = in_order(count)
    assert sorted(map(id, after)) == sorted(map(id, before))
    begun = 0
    for number in range(count):
        share = workers.LONGEST[number::count]
        found = after[begun : begun + len(share)]
        assert [one.nodeid.partition("::")[0] for one in found] == list(share)
        begun += (len(after) - begun) // (count - number)
    rest = [one for one in before if one.nodeid.startswith("tests/test_")]
    assert [one for one in after if one in rest] == rest


def test_one_process_keeps_the_order() -> None:
    before, after = in_order(1)
    assert after == before


def test_the_longest_files_are_there() -> None:
    assert [name for name in workers.LONGEST if not (ROOT / name).is_file()] == []
