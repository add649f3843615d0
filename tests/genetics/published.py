"""The published check values by id, as they lie in the fixtures."""

import json
from pathlib import Path
from typing import Any

FILE = Path(__file__).parents[2] / "fixtures" / "checks" / "published.json"


def published(name: str) -> Any:
    """The numbers of one check."""
    checks = json.loads(FILE.read_text(encoding="utf-8"))["checks"]
    return next(check["numbers"] for check in checks if check["id"] == name)
