"""The command line: `python -m genetics solve FILE...` and `python -m genetics check FILE...`."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Sequence

from genetics.json_values import JsonObject

ANSWERED = 0
FAILED = 1
STATUS = {"malformed": 2, "impossible": 3}

_DESCRIPTION = "Answer case files: what animals carry, from pedigrees and observations."
_EPILOG = """\
Each FILE holds one case as JSON in UTF-8; '-' reads one case from standard input.
One JSON object is printed a line, one line a case, in the order of the files.

exit status:
  0  every case was answered (check: is well formed)
  2  a case is malformed, or its file cannot be read
  3  the evidence of a case is impossible
The worst of the cases decides: impossible evidence (3) is worse than a malformed
case (2).  1 means that the program itself failed, could not write, or that a case is
too large to answer.  A case that is answered by sampling says so on standard error
before it starts, and its answer carries "exact": false and the error bars.
"""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit status."""
    options = _parser().parse_args(arguments)
    work = _solve if options.command == "solve" else _check
    status, failed = ANSWERED, False
    for path in options.files:
        answer = _answer(path, work)
        error = answer.get("error")
        if error is not None:
            failed = failed or error in ("internal", "beyond")
            status = max(status, STATUS.get(error, ANSWERED))
        print(json.dumps(answer, allow_nan=False), flush=True)
    return FAILED if failed else status


def run() -> int:
    """Run `main`; a closed or full output ends it quietly, without a traceback."""
    try:
        return main()
    except KeyboardInterrupt:
        return 130
    except OSError as error:
        # Standard output is gone: point it elsewhere, or the interpreter complains at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        if not isinstance(error, BrokenPipeError):
            print(f"cannot write the answers: {error.strerror}", file=sys.stderr)
        return FAILED


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m genetics",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for name, text in (
        ("solve", "answer every case"),
        ("check", "only check that every case is well formed"),
    ):
        command = commands.add_parser(
            name,
            help=text,
            description=f"{text[0].upper()}{text[1:]}.",
            epilog=_EPILOG,
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        command.add_argument("files", nargs="+", metavar="FILE", help="a case file, or '-'")
    return parser


def _answer(path: str, work: Callable[[bytes], JsonObject]) -> JsonObject:
    try:
        raw = _read(path)
    except OSError as error:
        message = f"cannot read {path!r}: {error.strerror}; expected a file that holds one case"
        return {"error": "malformed", "message": message, "place": ""}
    try:
        return work(raw)
    except Exception as error:  # noqa: BLE001 - one failure must not cost other cases their lines
        return {"error": "internal", "message": f"{type(error).__name__}: {error}"}


def _read(path: str) -> bytes:
    if path != "-":
        with open(path, "rb") as file:
            return file.read()
    if sys.stdin is None:
        raise OSError(0, "standard input is closed")
    return sys.stdin.buffer.read()


def _solve(raw: bytes) -> JsonObject:
    from genetics.casefile import answer_text

    return answer_text(raw, notice=lambda text: print(text, file=sys.stderr))


def _check(raw: bytes) -> JsonObject:
    from genetics.casefile import check_text

    return check_text(raw)


if __name__ == "__main__":
    sys.exit(run())
