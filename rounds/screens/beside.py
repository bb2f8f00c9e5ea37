"""Work that is done beside the keys, by a thread that nobody who leaves has to wait for."""

from __future__ import annotations

from collections.abc import Callable
from threading import Thread


class Beside:
    """Work that is begun at once and waited for as long as one likes."""

    def __init__(self, work: Callable[[], None]) -> None:
        self._work = work
        self._fault: Exception | None = None
        self._thread = Thread(target=self._run, daemon=True)  # who leaves does not wait for it

    def wait(self, patience_s: float | None) -> None:
        """Do it, and wait so long for it at most; None to do it here."""
        if patience_s is None:
            self._work()
            return
        self._thread.start()
        self._thread.join(patience_s)

    @property
    def over(self) -> bool:
        """Whether it is done; what went wrong in it is raised here."""
        if self._fault is not None:
            raise self._fault
        return not self._thread.is_alive()

    def _run(self) -> None:
        try:
            self._work()
        except Exception as fault:  # raised again where it is waited for
            self._fault = fault
