"""What a service manager, a proxy and a collector of figures are told."""

import json
import logging
import logging.config
import re
from io import StringIO
from typing import Any

import pytest
from django.core.exceptions import MiddlewareNotUsed
from django.core.management import call_command
from django.db import DatabaseError
from django.db.migrations.executor import MigrationExecutor
from django.test import Client, RequestFactory

from keeper import models as m
from keeper import settings as shipped
from keeper.pages.running import figures, views, watching

TOKEN = "a long token"


def told(answer: Any) -> tuple[int, str]:
    return answer.status_code, answer.content.decode()


def test_a_process_that_answers_is_alive_without_a_database(client: Client) -> None:
    assert told(client.get("/alive/")) == (200, "alive\n")
    assert client.post("/alive/").status_code == 405


@pytest.mark.django_db
def test_a_book_up_to_date_is_ready(client: Client) -> None:
    assert told(client.get("/ready/")) == (200, "ready\n")


@pytest.mark.django_db
def test_a_book_that_waits_for_its_upgrade_is_not_ready(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(MigrationExecutor, "migration_plan", lambda *_: ["one"])
    said = "not ready: the book waits to be brought up to date (manage.py migrate)\n"
    assert told(client.get("/ready/")) == (503, said)


@pytest.mark.django_db
def test_a_database_that_does_not_answer_is_not_ready_and_no_failure(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def gone(_: Any) -> None:
        raise DatabaseError("connection refused by 10.0.0.7")

    monkeypatch.setattr(views, "MigrationExecutor", gone)
    assert told(client.get("/ready/")) == (503, "not ready: the database does not answer\n")


def test_figures_are_for_the_token_alone(client: Client, settings: Any) -> None:
    assert client.get("/metrics/", headers={"Authorization": "Bearer "}).status_code == 404
    settings.METRICS_TOKEN = TOKEN
    for sent in ("", TOKEN, "Bearer a lonf token", "Bearer ü"):
        assert client.get("/metrics/", headers={"Authorization": sent}).status_code == 404
    answer = client.get("/metrics/", headers={"Authorization": f"Bearer {TOKEN}"})
    assert (answer.status_code, answer["Content-Type"].split(";")[0]) == (200, "text/plain")


def counted(view: str, status: str) -> float:
    text = figures.printed()[0].decode()
    pattern = (
        rf'keptlines_request_seconds_count{{method="GET",status="{status}",view="{view}"}} (\S+)'
    )
    found = re.search(pattern, text)
    return float(found[1]) if found else 0.0


@pytest.mark.django_db
def test_each_answer_is_counted_and_logged_without_what_was_asked(
    owner: m.Account, settings: Any, caplog: pytest.LogCaptureFixture
) -> None:
    settings.METRICS_TOKEN, settings.LOG_REQUESTS = TOKEN, True
    client = Client()  # its middleware is made now
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    before = [counted("animals", "2xx"), counted("animals-one", "4xx"), counted("none", "4xx")]
    with caplog.at_level(logging.INFO, logger="keeper.requests"):
        client.get("/animals/?q=Dulse")
        client.get("/animals/999999/")
        client.get("/nowhere/Dulse/")
    after = [counted("animals", "2xx"), counted("animals-one", "4xx"), counted("none", "4xx")]
    assert [new - old for new, old in zip(after, before, strict=True)] == [1, 1, 1]
    lines = [vars(one) for one in caplog.records if one.name == "keeper.requests"]
    assert [(one["view"], one["status"], one["account"]) for one in lines] == [
        ("animals", 200, owner.pk),
        ("animals-one", 404, owner.pk),
        ("none", 404, owner.pk),
    ]
    assert "Dulse" not in str(lines)


def test_nothing_is_timed_unless_it_is_asked_for(settings: Any) -> None:
    settings.METRICS_TOKEN, settings.LOG_REQUESTS = "", False
    with pytest.raises(MiddlewareNotUsed):
        watching.WatchingMiddleware(lambda request: None)  # type: ignore[arg-type,return-value]


def test_a_line_of_the_log_is_json() -> None:
    made = logging.config.DictConfigurator(shipped.LOGGING | {"version": 1})
    formatter = made.configure_formatter(shipped.LOGGING["formatters"]["json"])
    record = logging.makeLogRecord(
        {"name": "keeper.requests", "levelname": "INFO", "msg": "answered", "view": "home"}
    )
    line = json.loads(formatter.format(record))
    assert (line["name"], line["message"], line["view"]) == ("keeper.requests", "answered", "home")


def printed(file: str, **options: Any) -> str:
    out = StringIO()
    call_command("serving_files", file, stdout=out, **options)
    return out.getvalue()


def test_files_name_only_variables_that_the_settings_know() -> None:
    names = set(re.findall(r"^(\w+)=", printed("environment"), re.M))
    assert len(names) == 6
    assert {name for name in names if f"`{name}`" not in str(shipped.__doc__)} == set()


@pytest.mark.parametrize("file", ["nginx", "caddy"])
def test_a_proxy_asks_every_process_and_hides_figures(file: str) -> None:
    text = printed(file, host="book.club.example", processes=3, first_port=9000)
    assert sorted(set(re.findall(r"127\.0\.0\.1:(\d+)", text))) == ["9000", "9001", "9002"]
    assert "book.club.example" in text and "/metrics/" in text
    assert text.count("{") == text.count("}")


def test_a_service_writes_into_the_folder_of_the_book_alone() -> None:
    text = printed("service", account="keeper")
    assert f"ReadWritePaths={shipped.DATA}\n" in text
    assert "User=keeper\n" in text and "keptlines@8101 keptlines@8102\n" in text


def test_visitors_are_not_asked_over_plain_http_by_mistake(settings: Any) -> None:
    settings.SECURE_SSL_REDIRECT = True
    client = Client()
    assert client.get("/alive/").status_code == 200
    assert client.get("/log-in/").status_code == 301
    assert RequestFactory().get("/alive/").is_secure() is False
