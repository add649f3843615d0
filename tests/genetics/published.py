"""The published check values by id, as they lie in the fixtures."""

import json
from pathlib import Path
from typing import Any

FILE = Path(__file__).parents[2] / "fixtures" / "checks" / "published.json"

CHECKS: dict[str, dict[str, Any]] = {
    check["id"]: check for check in json.loads(FILE.read_text(encoding="utf-8"))["checks"]
}


def published(name: str) -> Any:
    """The numbers of one check."""
    return CHECKS[name]["numbers"]
