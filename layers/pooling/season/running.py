"""Where the partitions are worked on: in this process, or by Dask.

Of each result only its place in the list counts, never when it came: so what is added up is added
in one order, whichever process worked on it.
"""

from __future__ import annotations

import logging
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, TypeVar

from layers.errors import BadValue, BoxroundError, NotATrail

T = TypeVar("T")
R = TypeVar("R")

Done = Callable[[int], None]
"""Called with the place of each item that is done."""

WORKER_BYTES = 1_000_000_000
"""Memory of a worker, beyond which Dask starts it anew."""

QUIET_S = 10.0
"""Seconds without a result after which Dask's workers are checked for what they still have."""


class Runner(ABC):
    """Calls a function for every item of a list."""

    def map(
        self, function: Callable[[T], R], items: Sequence[T], done: Done | None = None
    ) -> list[R]:
        """The results, in the order of the items; the first error is raised."""
        return [_raised(one) for one in self.try_each(function, items, done)]

    @abstractmethod
    def try_each(
        self, function: Callable[[T], R], items: Sequence[T], done: Done | None = None
    ) -> list[R | BoxroundError]:
        """The same with errors in the places of results."""


class PlainLoop(Runner):
    """One after the other, in this process."""

    def try_each(
        self, function: Callable[[T], R], items: Sequence[T], done: Done | None = None
    ) -> list[R | BoxroundError]:
        """See `Runner`."""
        results: list[R | BoxroundError] = []
        for at, item in enumerate(items):
            try:
                results.append(function(item))
            except BoxroundError as error:
                results.append(error)
            if done is not None:
                done(at)
        return results


class OnDask(Runner):
    """On the workers of a Dask client. An item whose worker died is given to another one."""

    def __init__(self, client: Any) -> None:
        self._client = client

    def try_each(
        self, function: Callable[[T], R], items: Sequence[T], done: Done | None = None
    ) -> list[R | BoxroundError]:
        """See `Runner`."""
        from distributed import wait  # noqa: PLC0415 - optional

        def submitted(at: int) -> Any:
            return self._client.submit(function, items[at], pure=False)

        results: dict[int, R | BoxroundError] = {}
        place = {submitted(at): at for at in range(len(items))}
        while place:
            try:
                finished = wait(list(place), timeout=QUIET_S, return_when="FIRST_COMPLETED").done
            except TimeoutError:
                if not any(self._client.processing().values()):
                    # All workers are idle: what a worker had that ended is lost.
                    place = {submitted(at): at for at in place.values()}
                continue
            for future in finished:
                at = place.pop(future)
                # Taken at once, so that a worker that ends later loses nothing.
                results[at] = self._result(future, at, len(items))
                if done is not None:
                    done(at)
        return [results[at] for at in range(len(items))]

    @staticmethod
    def _result(future: Any, at: int, items: int) -> Any:
        from distributed import KilledWorker  # noqa: PLC0415 - optional

        try:
            return future.result()
        except KilledWorker:
            return NotATrail(
                f"Part {at + 1} of {items} ended its worker several times; its memory may not be "
                "enough. Run it with fewer workers, or in one process."
            )
        except BoxroundError as error:
            return error


def _raised(result: R | BoxroundError) -> R:
    if isinstance(result, BoxroundError):
        raise result
    return result


@contextmanager
def runner(*, workers: int, scheduler: str | None) -> Iterator[Runner]:
    """What runs partitions: a plain loop unless workers or a scheduler are named.

    Parameters
    ----------
    workers
        Processes of a cluster on this machine; 0 for none.
    scheduler
        Address of a running Dask scheduler, whose workers see the archive under the same path and
        have the same version of Boxround.

    Raises
    ------
    BadValue
        Dask is not installed, or no scheduler answers at the address.
    """
    if not workers and scheduler is None:
        yield PlainLoop()
        return
    try:
        import dask  # noqa: PLC0415 - optional, and slow to load
        from distributed import Client, LocalCluster  # noqa: PLC0415 - as above
    except ImportError as error:
        raise BadValue("Dask to be installed, as by pip install boxround[pool]", "none") from error
    with dask.config.set({"distributed.scheduler.allowed-failures": 3}):
        if scheduler is not None:
            try:
                client = Client(scheduler, timeout=10)
            except (OSError, ValueError) as error:
                raise BadValue(
                    "the address of a Dask scheduler, such as tcp://10.0.0.1:8786",
                    repr(scheduler),
                    column="scheduler",
                ) from error
            with client:
                yield OnDask(client)
            return
        with (
            LocalCluster(
                n_workers=workers,
                threads_per_worker=1,
                memory_limit=WORKER_BYTES,
                silence_logs=logging.ERROR,
                dashboard_address=None,
            ) as cluster,
            Client(cluster) as client,
        ):
            yield OnDask(client)
