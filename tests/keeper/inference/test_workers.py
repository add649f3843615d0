"""Workers solve the book to the last bit as this process does, and nobody else reaches them."""

import builtins
import os
from collections.abc import Iterator
from io import StringIO
from pathlib import Path
from typing import Any, TypedDict

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction

import genetics
from keeper import models as m
from keeper.domain import inference
from keeper.domain.book.writing import writing
from keeper.domain.example import replaying as example
from keeper.domain.inference.standings import solving
from tests.keeper.books import Book
from tests.keeper.inference.test_always import Day

Rows = list[tuple[Any, ...]]


class Files(TypedDict):
    """By what a cluster is asked."""

    authority: str
    certificate: str
    key: str


_FIGURES = (
    "animal_id", "trait_id", "line_id", "two", "one", "none", "mixed", "error", "customary",
    "word", "clean_young", "dispute__fingerprint",
)  # fmt: skip
_CHANGES = (
    "animal_id", "trait_id", "line_id", "word_before", "two_before", "none_before",
    "disputed_before", "word", "two", "none", "disputed",
)  # fmt: skip


@pytest.fixture(scope="module")
def workers() -> Iterator[inference.Workers]:
    with inference.workers_here(2) as found:
        yield found


def written_by(solver: inference.Solver | None) -> tuple[Rows, Rows]:
    """What a recompute writes into a book without standings; the book is left as it was."""
    with transaction.atomic():
        m.Standing.objects.all().delete()
        ahead = inference.solved_ahead(solver)
        with writing(by=None, what="Recomputed", of_records=False) as book:
            inference.recompute(entry=book.entry, ahead=ahead)
        standings = m.Standing.objects.order_by("pk").values_list(*_FIGURES)
        changes = m.StandingChange.objects.filter(entry=book.entry).values_list(*_CHANGES)
        found = list(standings), list(changes)
        transaction.set_rollback(True)
    return found


@pytest.mark.sockets
@pytest.mark.django_db
@pytest.mark.parametrize("seed", range(6))
def test_two_workers_write_the_rows_of_none(
    owner: m.Account, workers: inference.Workers, seed: int
) -> None:
    Day(owner, seed).live(20)
    kept = written_by(None)
    assert len(kept[0]) > 3
    assert written_by(workers) == kept


@pytest.mark.sockets
@pytest.mark.django_db
def test_two_workers_write_the_rows_of_none_in_the_example(
    owner: m.Account, workers: inference.Workers, monkeypatch: pytest.MonkeyPatch
) -> None:
    example.load(by=owner)
    monkeypatch.setattr(solving, "BATCH", 20)
    assert written_by(workers) == written_by(None)


@pytest.mark.sockets
def test_workers_load_nothing_of_the_book(workers: inference.Workers) -> None:
    # Defined here, so that it travels by value and brings no module of the tests along.
    def loaded() -> list[str]:
        import sys

        names = {name.partition(".")[0] for name in sys.modules}
        return sorted(names & {"django", "keeper", "genetics"})

    locus = genetics.Locus("sg", ("+", "har"))
    workers.put(genetics.Subproblem(genetics.Population((locus,), (genetics.Animal("D"),)), ()))
    assert len(list(workers.answers())) == 1
    assert set().union(*workers.ask(loaded)) == {"genetics"}


@pytest.mark.sockets
def test_workers_listen_on_this_machine_alone_and_show_nothing(workers: inference.Workers) -> None:
    import psutil

    mine = psutil.Process()
    listening = [
        found.laddr
        for process in (mine, *mine.children(recursive=True))
        for found in process.net_connections("inet")
        if found.status == psutil.CONN_LISTEN
    ]
    assert len(listening) >= 3
    assert {address.ip for address in listening} == {"127.0.0.1"}
    assert workers.address.startswith("tls://127.0.0.1:")


@pytest.mark.sockets
@pytest.mark.django_db
def test_recompute_with_workers_puts_right(owner: m.Account) -> None:
    book = Book(owner)
    book.founder("F1", "female", "carries")
    m.Standing.objects.update(one=0.5, none=0.5)
    out = StringIO()
    with pytest.raises(SystemExit):
        call_command("recompute", workers=1, stdout=out)
    assert out.getvalue().splitlines()[-1] == "Put right: 2."
    assert inference.differences() == []


# --- a cluster ------------------------------------------------------------------------------------


@pytest.fixture
def certificates(tmp_path: Path) -> Files:
    """The files of a cluster that signs its own."""
    from distributed.security import Security

    made = Security.temporary()
    parts = {
        "authority": made.tls_ca_file,
        "certificate": made.tls_client_cert,
        "key": made.tls_client_key,
    }
    for name, text in parts.items():
        (tmp_path / name).write_text(text, encoding="ascii")
        os.chmod(tmp_path / name, 0o600)
    found = {name: str(tmp_path / name) for name in parts}
    return Files(authority=found["authority"], certificate=found["certificate"], key=found["key"])


@pytest.mark.sockets
@pytest.mark.django_db
def test_a_cluster_is_asked_over_tls(owner: m.Account, certificates: Files) -> None:
    from distributed import LocalCluster
    from distributed.security import Security

    Day(owner, 3).live(12)
    files = {
        f"tls_{role}_{kind}": file
        for role in ("client", "scheduler", "worker")
        for kind, file in (("cert", certificates["certificate"]), ("key", certificates["key"]))
    }
    security = Security(require_encryption=True, tls_ca_file=certificates["authority"], **files)
    with (
        LocalCluster(
            n_workers=1,
            processes=False,
            host="127.0.0.1",
            protocol="tls://",
            security=security,
            dashboard_address="127.0.0.1:0",
            scheduler_kwargs={"dashboard": False},
        ) as cluster,
        inference.workers_of(cluster.scheduler_address, **certificates) as found,
    ):
        assert written_by(found) == written_by(None)


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:8786", "127.0.0.1:8786", "ws://host:1"])
def test_a_scheduler_without_tls_is_refused(address: str, certificates: Files) -> None:
    with (
        pytest.raises(inference.NoWorkers) as caught,
        inference.workers_of(address, **certificates),
    ):
        pass
    assert str(caught.value) == (
        f"the scheduler's address is {address!r}; it must begin with tls://, since what is sent "
        "there is the book's and what comes back is believed."
    )


def test_a_scheduler_without_certificates_is_refused(certificates: Files) -> None:
    files = Files(
        authority=certificates["authority"], certificate=certificates["certificate"], key=""
    )
    with pytest.raises(inference.NoWorkers) as caught, inference.workers_of("tls://a:1", **files):
        pass
    assert str(caught.value) == (
        "KEPTLINES_WORKERS_KEY is not set; a scheduler is reached over TLS only."
    )


def test_a_certificate_that_is_not_there_is_named(certificates: Files) -> None:
    files = Files(
        authority="/nowhere/authority.pem",
        certificate=certificates["certificate"],
        key=certificates["key"],
    )
    with pytest.raises(inference.NoWorkers) as caught, inference.workers_of("tls://a:1", **files):
        pass
    assert str(caught.value) == (
        "KEPTLINES_WORKERS_AUTHORITY is '/nowhere/authority.pem', and there is no such file."
    )


@pytest.mark.sockets
def test_a_scheduler_that_does_not_answer_is_named(certificates: Files) -> None:
    with (
        pytest.raises(inference.NoWorkers) as caught,
        inference.workers_of("tls://127.0.0.1:1", **certificates, patience=1),
    ):
        pass
    assert str(caught.value).startswith("the scheduler at tls://127.0.0.1:1 cannot be reached: ")


@pytest.mark.django_db
def test_recompute_says_what_a_scheduler_needs() -> None:
    with pytest.raises(CommandError) as caught:
        call_command("recompute", scheduler="tls://127.0.0.1:8786")
    assert str(caught.value) == (
        "KEPTLINES_WORKERS_AUTHORITY is not set; a scheduler is reached over TLS only."
    )


# --- without the packages -------------------------------------------------------------------------


@pytest.mark.django_db
def test_recompute_says_how_to_fetch_what_workers_need(monkeypatch: pytest.MonkeyPatch) -> None:
    real = builtins.__import__

    def lacking(name: str, *rest: Any, **more: Any) -> Any:
        if name.partition(".")[0] in {"dask", "distributed"}:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", lacking)
    with pytest.raises(CommandError) as caught:
        call_command("recompute", workers=2)
    assert str(caught.value) == (
        "workers need packages that are not installed; fetch them with "
        "`.venv/bin/python -m pip install --require-hashes -r .lock/workers.txt`."
    )
