"""Health, readiness and figures; none of them tells anything of what is in the book."""

import hmac

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from keeper.access import open_to_all
from keeper.domain.background import queue

_PLAIN = "text/plain; charset=utf-8"


@open_to_all
@require_safe
def alive(request: HttpRequest) -> HttpResponse:
    """Say that this process answers; it asks nothing else."""
    return HttpResponse("alive\n", content_type=_PLAIN)


@open_to_all
@require_safe
def ready(request: HttpRequest) -> HttpResponse:
    """Say whether this process can serve the book, and if not why."""
    lacking = _lacking()
    if lacking:
        return HttpResponse(f"not ready: {lacking}\n", content_type=_PLAIN, status=503)
    return HttpResponse(f"ready\n{_queue()}", content_type=_PLAIN)


@open_to_all
@require_safe
def metrics(request: HttpRequest) -> HttpResponse:
    """Give figures about requests, in the text format of Prometheus, to whoever has the token.

    Raises:
        Http404: no token is set, or another was sent.
    """
    token, sent = settings.METRICS_TOKEN, request.headers.get("Authorization", "")
    if not token or not hmac.compare_digest(sent.encode(), f"Bearer {token}".encode()):
        raise Http404
    from keeper.pages.running.figures import printed

    text, kind = printed()
    return HttpResponse(text, content_type=kind)


def _queue() -> str:
    """Say how the queue does. Pages do without a worker, so a process is ready without one."""
    if not queue.is_there():
        return ""
    now = queue.state()
    said = f"queue: {now.waiting} waiting, {now.running} under way, "
    return said + (f"{now.workers} at work\n" if now.workers else "no worker is running\n")


def _lacking() -> str:
    """Return what is lacking, in words; empty: nothing."""
    try:
        executor = MigrationExecutor(connection)
        waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError:
        return "the database does not answer"
    return "the book waits to be brought up to date (manage.py migrate)" if waiting else ""
