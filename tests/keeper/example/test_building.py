"""The script that makes the example collection gives the collection that is shipped."""

import json
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

from tests.guards.tree import ROOT

YARD = ROOT / "fixtures" / "ostrel_yard"


def events() -> list[dict[str, Any]]:
    listed: list[dict[str, Any]] = json.loads((YARD / "collection.json").read_text("utf-8"))
    return listed


def test_script_reproduces_the_collection_byte_for_byte(tmp_path: Path) -> None:
    again = tmp_path / "again.json"
    subprocess.run([sys.executable, YARD / "build.py", again], check=True, cwd=tmp_path)
    assert again.read_bytes() == (YARD / "collection.json").read_bytes()


def test_events_are_in_order_of_their_days() -> None:
    days = [event["on"] for event in events()]
    assert days == sorted(days)
    assert (days[0][:4], days[-1][:4]) == ("2021", "2026")


def test_eggs_slugs_losses_and_hatchlings_add_up() -> None:
    laid = {event["code"]: event["eggs"] for event in events() if event["do"] == "lay"}
    came = {
        event["clutch"]: event.get("slugs", 0)
        + event.get("lost", 0)
        + sum(row["count"] for row in event["rows"])
        for event in events()
        if event["do"] == "hatch"
    }
    # The last clutch is still in the incubator.
    assert laid == came | {"26-08": 7}


def test_codes_are_used_once() -> None:
    codes = [event["code"] for event in events() if event["do"] in ("acquire", "buy")]
    for event in events():
        if event["do"] == "hatch":
            codes += [one["code"] for row in event["rows"] for one in row.get("record", ())]
    assert [code for code, times in Counter(codes).items() if times > 1] == []


def test_sexes_of_hatchlings_come_out_about_even() -> None:
    sexes = Counter(
        one["sex"]
        for event in events()
        if event["do"] == "hatch"
        for row in event["rows"]
        for one in row.get("record", ())
    )
    assert 0.35 < sexes["male"] / (sexes["male"] + sexes["female"]) < 0.65
