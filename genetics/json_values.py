"""JSON as Python values."""

from __future__ import annotations

from typing import Any

Json = Any
"""Any JSON value.  What it may be is stated by the schema of case files and checked at run time;
spelled out as a recursive type it would have to be narrowed again at every step."""
JsonObject = dict[str, Json]
