"""Figures about requests, counted by `prometheus_client`.

With several processes set `PROMETHEUS_MULTIPROC_DIR` to an empty folder of theirs: its library then
adds them up.
"""

import os

from prometheus_client import (
    CONTENT_TYPE_LATEST,
    REGISTRY,
    CollectorRegistry,
    Histogram,
    generate_latest,
)
from prometheus_client.multiprocess import MultiProcessCollector

REQUESTS = Histogram(
    "keptlines_request_seconds",
    "Seconds that an answer took, by the name of its address, method and class of status.",
    ["view", "method", "status"],
    buckets=(0.02, 0.05, 0.1, 0.2, 0.3, 0.5, 1, 2, 5, 10, 20),
)


def count(*, view: str, method: str, status: int, seconds: float) -> None:
    """Count one answer."""
    REQUESTS.labels(view, method, f"{status // 100}xx").observe(seconds)


def printed() -> tuple[bytes, str]:
    """Return all figures as text, and its content type."""
    registry = REGISTRY
    if "PROMETHEUS_MULTIPROC_DIR" in os.environ:
        registry = CollectorRegistry()
        MultiProcessCollector(registry)  # type: ignore[no-untyped-call]  # its library has no types
    return generate_latest(registry), CONTENT_TYPE_LATEST
