"""Figures about requests, counted by `prometheus_client`, and about the queue, where there is one.

With several processes set `PROMETHEUS_MULTIPROC_DIR` to an empty folder of theirs: its library then
adds them up.
"""

import os
from collections.abc import Iterator

from prometheus_client import (
    CONTENT_TYPE_LATEST,
    REGISTRY,
    CollectorRegistry,
    Histogram,
    generate_latest,
)
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.multiprocess import MultiProcessCollector

from keeper.domain.background import queue

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
    text = generate_latest(registry)
    if queue.is_there():
        text += generate_latest(_of_the_queue())
    return text, CONTENT_TYPE_LATEST


class _Queue:
    """How the queue does, asked of the database: the same from every process."""

    def collect(self) -> Iterator[GaugeMetricFamily]:
        """Give the figures of this moment."""
        now = queue.state()
        yield GaugeMetricFamily(
            "keptlines_workers", "Processes that take work out of the queue.", value=now.workers
        )
        jobs = GaugeMetricFamily(
            "keptlines_jobs", "Jobs in the background, by their state.", labels=["state"]
        )
        jobs.add_metric(["waiting"], now.waiting)
        jobs.add_metric(["running"], now.running)
        yield jobs


def _of_the_queue() -> CollectorRegistry:
    registry = CollectorRegistry()
    registry.register(_Queue())
    return registry
