"""Who solves the subproblems of a whole book: this process, or workers beside it or elsewhere.

Workers are those of Dask's `distributed`. They are handed subproblems of `genetics` and hand back
answers: never the database, nor anything of Django. Whoever reaches a scheduler or a worker can
run what he likes there, so all of them speak TLS with certificates on both sides; those on this
machine listen on loopback alone, with certificates made for this one time.
"""

import logging
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Protocol

import genetics

# Records that one task of a worker is about: less, and handing them over takes the time. To lay a
# subproblem out takes as long as so many records of it, and of small ones there are hundreds.
BATCH, LAYING_OUT = 4000, 60
# Scenarios of one task: few, for each takes a second or so, and the last one is waited for.
SCENARIOS = 4

MISSING = (
    "workers need packages that are not installed; fetch them with "
    "`.venv/bin/python -m pip install --require-hashes -r .lock/workers.txt`."
)


class NoWorkers(Exception):
    """Why nothing can be solved by workers, and what to do, in a sentence."""


class Solver(Protocol):
    """Takes subproblems, and gives their answers back in the order in which they came."""

    def put(self, one: "genetics.Subproblem") -> None:
        """Take a subproblem; work on it may begin at once."""

    def answers(self) -> "Iterator[genetics.Answer | None]":
        """The answers of all that was put since the last time."""


class Here:
    """Solves in this process, when asked for the answers."""

    def __init__(self) -> None:
        self._waiting: list[genetics.Subproblem] = []

    def put(self, one: "genetics.Subproblem") -> None:
        """Keep it until the answers are asked for."""
        self._waiting.append(one)

    def answers(self) -> "Iterator[genetics.Answer | None]":
        """Solve one after the other."""
        waiting, self._waiting = self._waiting, []
        return map(genetics.answered, waiting)


class Workers:
    """Hands subproblems to workers, many in one packet, and the first while more are put."""

    def __init__(self, client: Any) -> None:
        self._client = client
        self._batch: list[genetics.Subproblem] = []
        self._size = 0
        self._sent: list[Any] = []

    @property
    def address(self) -> str:
        """Where their scheduler listens."""
        return str(self._client.scheduler.address)

    def ask(self, question: Callable[[], Any]) -> list[Any]:
        """What each worker says to something."""
        return list(self._client.run(question).values())

    def put(self, one: "genetics.Subproblem") -> None:
        """Send it on with the next packet."""
        self._batch.append(one)
        self._size += len(one.population.animals) + len(one.population.clutches) + LAYING_OUT
        if self._size >= BATCH:
            self._send()

    def answers(self) -> "Iterator[genetics.Answer | None]":
        """The workers' answers, in order.

        Raises:
            NoWorkers: they are lost, or are not of this version.
        """
        if self._batch:
            self._send()
        sent, self._sent = self._sent[::-1], []
        while sent:
            yield from genetics.unpack_answers(_result(sent.pop()))

    def forecasts(
        self, scenarios: "Sequence[genetics.Scenario]"
    ) -> "Iterator[genetics.Forecast | None]":
        """The workers' forecasts, in order, each as soon as those before it are there.

        Raises:
            NoWorkers: they are lost, or are not of this version.
        """
        sent = [
            self._client.submit(
                genetics.forecast_packet,
                genetics.pack(scenarios[start : start + SCENARIOS]),
                genetics.fingerprint(),
                pure=False,
            )
            for start in range(0, len(scenarios), SCENARIOS)
        ]
        for task in sent:
            yield from genetics.unpack_forecasts(_result(task))

    def _send(self) -> None:
        packet = genetics.pack(self._batch)
        self._batch, self._size = [], 0
        task = self._client.submit(
            genetics.answer_packet, packet, genetics.fingerprint(), pure=False
        )
        self._sent.append(task)


def _result(task: Any) -> bytes:
    from distributed.scheduler import KilledWorker

    try:
        answer: bytes = task.result()
    except genetics.AnotherEngine as error:
        raise NoWorkers(
            "the workers run another version of this program or of its libraries, and would not "
            "give the same figures; install the same on their machines."
        ) from error
    except ModuleNotFoundError as error:
        raise NoWorkers(
            f"the workers have no module {error.name!r}; start them in this program's folder, "
            "with its packages installed."
        ) from error
    except (KilledWorker, OSError, TimeoutError) as error:
        raise NoWorkers(
            "the workers were lost while they solved; nothing was written. Begin anew."
        ) from error
    return answer


@contextmanager
def workers_here(count: int) -> Iterator[Workers]:
    """So many processes of this machine, until the block ends.

    Raises:
        NoWorkers: the packages are not installed.
    """
    try:
        import dask
        from distributed import Client, LocalCluster
    except ImportError as error:
        raise NoWorkers(MISSING) from error
    # What every node says of itself over HTTP is said to nobody here.
    silent: dict[str, list[str] | bool] = {
        "distributed.scheduler.http.routes": [], "distributed.worker.http.routes": [],
        # It would look a hundred times a second at what each worker does.
        "distributed.worker.profile.enabled": False,
    }  # fmt: skip
    logging.getLogger("distributed").setLevel(logging.ERROR)
    with (
        dask.config.set(silent),
        LocalCluster(
            n_workers=count,
            threads_per_worker=1,
            host="127.0.0.1",
            security=True,
            dashboard_address="127.0.0.1:0",
            scheduler_kwargs={"dashboard": False},
        ) as cluster,
        Client(cluster) as client,
    ):
        yield Workers(client)


@contextmanager
def workers_of(
    address: str, *, authority: str, certificate: str, key: str, patience: float = 30
) -> Iterator[Workers]:
    """The workers of a cluster's scheduler, reached over TLS.

    `authority`, `certificate` and `key` are PEM files: who signed the cluster's certificates, and
    by what this program shows that it may ask.

    Raises:
        NoWorkers: it is not TLS, a file is missing, nobody answers, or has no workers.
    """
    files = {"authority": authority, "certificate": certificate, "key": key}
    _check(address, files)
    try:
        from distributed import Client
        from distributed.security import Security
    except ImportError as error:
        raise NoWorkers(MISSING) from error
    security = Security(
        require_encryption=True,
        tls_ca_file=authority,
        tls_client_cert=certificate,
        tls_client_key=key,
    )
    try:
        client = Client(address, security=security, timeout=patience)
    except (OSError, TimeoutError, ValueError) as error:
        raise NoWorkers(f"the scheduler at {address} cannot be reached: {error}.") from error
    with client:
        try:
            client.wait_for_workers(1, timeout=patience)
        except TimeoutError as error:
            raise NoWorkers(f"the scheduler at {address} has no workers.") from error
        yield Workers(client)


def _check(address: str, files: dict[str, str]) -> None:
    from pathlib import Path

    if not address.startswith("tls://"):
        raise NoWorkers(
            f"the scheduler's address is {address!r}; it must begin with tls://, since what is "
            "sent there is the book's and what comes back is believed."
        )
    for name, file in files.items():
        setting = f"KEPTLINES_WORKERS_{name.upper()}"
        if not file:
            raise NoWorkers(f"{setting} is not set; a scheduler is reached over TLS only.")
        if not Path(file).is_file():
            raise NoWorkers(f"{setting} is {file!r}, and there is no such file.")
