"""Work that is done beside the keys, by a thread that nobody who leaves has to wait for."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from threading import Thread
from typing import TypeVar

_T = TypeVar("_T")


def begin(work: Callable[[], _T]) -> Future[_T]:
    """Begin some work, and return what will hold its result, or what went wrong in it."""
    done: Future[_T] = Future()
    done.set_running_or_notify_cancel()  # who no longer waits does not stop it

    def run() -> None:
        try:
            done.set_result(work())
        except BaseException as fault:  # raised again where it is waited for
            done.set_exception(fault)

    Thread(target=run, daemon=True).start()
    return done
