"""The command line: one line a case, in order, the exit status of the worst, no traceback."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from genetics import __main__ as command
from tests.genetics.case_files import CASES, worked_names

ROOT = Path(__file__).parents[2]
GOOD = str(CASES / "possible-carrier.json")
ALSO_GOOD = str(CASES / "inbred-family.json")
IMPOSSIBLE = str(CASES / "impossible-evidence.json")


@pytest.fixture
def malformed(tmp_path: Path) -> str:
    """A case file whose founder's papers do not sum to 1."""
    text = Path(GOOD).read_text(encoding="utf-8").replace('"2/3"', '"1/3"')
    path = tmp_path / "malformed.json"
    path.write_text(text, encoding="utf-8")
    return str(path)


def run(*arguments: str, stdin: bytes = b"") -> tuple[int, list[dict[str, Any]], str]:
    """Exit status, the printed objects and the standard error of a run of its own."""
    done = subprocess.run(
        [sys.executable, "-m", "genetics", *arguments],
        input=stdin,
        capture_output=True,
        cwd=ROOT,
        timeout=120,
        check=False,
    )
    return (
        done.returncode,
        [json.loads(line) for line in done.stdout.splitlines()],
        (done.stderr.decode()),
    )


def called(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, list[dict[str, Any]]]:
    """Exit status and printed objects of a run in this process."""
    status = command.main(arguments)
    printed = capsys.readouterr()
    assert printed.err == ""
    return status, [json.loads(line) for line in printed.out.splitlines()]


def kinds(lines: list[dict[str, Any]]) -> list[str]:
    return [line.get("error", "answered") for line in lines]


def test_solving_prints_one_line_a_case_in_order() -> None:
    status, lines, errors = run("solve", GOOD, ALSO_GOOD)
    assert (status, errors) == (0, "")
    assert [list(line["posterior"]) for line in lines] == [
        ["M1", "F1", "K1"],
        ["F1", "M1", "K1", "K2", "L1", "L2"],
    ]
    assert lines[0]["posterior"]["M1"]["sg"]["+/har"] == pytest.approx(1 / 9, abs=1e-12)


def test_solving_reads_standard_input() -> None:
    status, lines, errors = run("solve", "-", stdin=Path(GOOD).read_bytes())
    assert (status, errors, len(lines)) == (0, "", 1)
    assert lines[0]["log_evidence"] == pytest.approx(-1.6739764335716716, abs=1e-12)


def test_checking_accepts_every_worked_case(capsys: pytest.CaptureFixture[str]) -> None:
    names = worked_names()
    found = called(capsys, "check", *(str(CASES / f"{name}.json") for name in names))
    assert found == (0, [{"ok": True}] * len(names))


def test_checking_names_the_fault(capsys: pytest.CaptureFixture[str], malformed: str) -> None:
    assert called(capsys, "check", malformed, GOOD) == (
        2,
        [
            {
                "error": "malformed",
                "message": "animals[0].founder.sg: probabilities sum to 2/3, not 1",
                "place": "animals[0].founder.sg",
            },
            {"ok": True},
        ],
    )


def test_checking_does_not_weigh_the_evidence(capsys: pytest.CaptureFixture[str]) -> None:
    assert called(capsys, "check", IMPOSSIBLE) == (0, [{"ok": True}])


@pytest.mark.parametrize(
    ("order", "worst"),
    [
        ("good", 0),
        ("malformed", 2),
        ("impossible", 3),
        ("malformed good", 2),
        ("impossible malformed", 3),
        ("malformed good impossible", 3),
    ],
)
def test_worst_case_decides_the_exit_status(
    capsys: pytest.CaptureFixture[str], malformed: str, order: str, worst: int
) -> None:
    files = {"good": GOOD, "malformed": malformed, "impossible": IMPOSSIBLE}
    status, lines = called(capsys, "solve", *(files[name] for name in order.split()))
    assert status == worst
    assert kinds(lines) == ["answered" if name == "good" else name for name in order.split()]


def test_file_that_cannot_be_read_prints_its_line(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    missing = str(tmp_path / "missing.json")
    status, lines = called(capsys, "solve", missing, GOOD, str(tmp_path))
    assert (status, kinds(lines)) == (2, ["malformed", "answered", "malformed"])
    assert lines[0] == {
        "error": "malformed",
        "message": f"cannot read {missing!r}: No such file or directory; "
        "expected a file that holds one case",
        "place": "",
    }


def test_error_bars_are_no_failure(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    answer = {"posterior": {}, "exact": False, "errors": {"K1": {"sg": 0.01}}}
    monkeypatch.setattr(command, "_solve", lambda raw: answer)
    assert called(capsys, "solve", GOOD) == (0, [answer])


def test_failure_of_the_program_costs_no_other_case_its_line(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    failures = [RuntimeError("no such table")]

    def failing(raw: bytes) -> dict[str, Any]:
        if failures:
            raise failures.pop()
        return {"ok": True}

    monkeypatch.setattr(command, "_check", failing)
    assert called(capsys, "check", GOOD, GOOD) == (
        1,
        [{"error": "internal", "message": "RuntimeError: no such table"}, {"ok": True}],
    )


@pytest.mark.parametrize("arguments", [(), ("solve",), ("answer", GOOD)])
def test_wrong_use_is_told_with_the_usage(
    capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...]
) -> None:
    with pytest.raises(SystemExit) as caught:
        command.main(arguments)
    assert caught.value.code == 2
    assert capsys.readouterr().err.startswith("usage: python -m genetics")


@pytest.mark.parametrize("arguments", [("--help",), ("solve", "--help"), ("check", "--help")])
def test_help_tells_the_exit_status(
    capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...]
) -> None:
    with pytest.raises(SystemExit) as caught:
        command.main(arguments)
    assert caught.value.code == 0
    printed = capsys.readouterr().out
    assert "impossible evidence (3) is worse than a malformed\ncase (2)" in printed


@pytest.mark.parametrize(
    "stdin",
    [b"", b"\xff", b"[" * 50_000, b'{"a": 1, "a": 2}', b'{"loci": NaN}', b"9" * 9999, b"{"],
)
def test_broken_input_is_a_malformed_line_and_no_traceback(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, stdin: bytes
) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(stdin)))
    status, lines = called(capsys, "solve", "-")
    assert (status, kinds(lines)) == (2, ["malformed"])


def test_broken_input_is_refused_in_a_process_of_its_own() -> None:
    for stdin in (b"", b"\xff\xfe", b"[" * 50_000, b'{"\\ud800": 1}'):
        status, lines, errors = run("solve", "-", stdin=stdin)
        assert (status, kinds(lines), errors) == (2, ["malformed"], "")


def test_closed_standard_input_is_a_malformed_line(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stdin", None)
    status, lines = called(capsys, "check", "-")
    assert (status, kinds(lines)) == (2, ["malformed"])
    assert lines[0]["message"].startswith("cannot read '-': standard input is closed")


def test_closed_pipe_ends_the_run_quietly() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run(
        [sys.executable, "-m", "genetics", "check", GOOD, GOOD],
        stdout=writing,
        stderr=subprocess.PIPE,
        cwd=ROOT,
        timeout=120,
        check=False,
    )
    os.close(writing)
    assert (done.returncode, done.stderr) == (1, b"")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_full_disk_is_told_without_a_traceback() -> None:
    with open("/dev/full", "wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "genetics", "check", GOOD],
            stdout=full,
            stderr=subprocess.PIPE,
            cwd=ROOT,
            timeout=120,
            check=False,
        )
    assert done.returncode == 1
    assert done.stderr == b"cannot write the answers: No space left on device\n"


def test_checking_imports_nothing_heavy() -> None:
    heavy = "{'numpy', 'scipy', 'numba', 'sympy', 'jsonschema', 'django'}"
    code = (
        "import sys; from genetics.__main__ import main; "
        f"main(['check', {GOOD!r}]); print(sorted({heavy} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, cwd=ROOT, timeout=120, check=True
    )
    assert done.stdout.decode().splitlines() == ['{"ok": true}', "[]"]
