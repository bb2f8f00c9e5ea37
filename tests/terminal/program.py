"""A real program in a pseudo-terminal: type to it, wait for what its screen shows, count bytes."""

from __future__ import annotations

import fcntl
import os
import re
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

import pyte

DEADLINE_S = 15.0
BOUNCE_S = 0.31
"""Longer than the program takes the same key again for a bounce."""
ESCAPE = "\x1b[27u"
"""As a terminal with the extended protocol sends it: a bare one may begin another key."""
UP, DOWN = "\x1b[A", "\x1b[B"
_XTERM = {"TERM": "xterm-256color", "COLORTERM": "truecolor", "TMUX": "", "STY": ""}
_QUERIES = re.compile(rb"\x1b\[[<>=][0-9;]*[A-Za-z]|\x1b\[\?[0-9;]*(?:\$p|u)|\x1b\[[0-9;]*t")
_SYNC_QUERY = b"\x1b[?2026$p"
_SYNC_ANSWER = b"\x1b[?2026;2$y"


class Answer(NamedTuple):
    """What a key brought: seconds to its first and its last byte, of a processor, and bytes."""

    first_s: float
    settled_s: float
    cpu_s: float
    bytes: int


class Program:
    """One run of a command on a terminal of its own."""

    def __init__(
        self, argv: Sequence[str | Path], env: Mapping[str, str], columns: int = 80, rows: int = 24
    ) -> None:
        self.screen = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self.screen)
        self.wire = bytearray()
        """Every byte the program wrote."""
        self._master, slave = os.openpty()
        self.before = termios.tcgetattr(slave)
        _size(self._master, columns, rows)
        self._last, self._at = "", 0.0
        """The last key, and when the program was last seen to have taken it."""
        self.started = time.perf_counter()
        self.process = subprocess.Popen(
            [str(one) for one in argv],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            env={**os.environ, **_XTERM, **env},
            start_new_session=True,
            preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0),
        )
        os.close(slave)

    # -- the screen ------------------------------------------------------------------------------

    def read(self, timeout_s: float) -> bytes:
        """Take in what the program writes within a time; empty when it wrote nothing."""
        data = self._written(timeout_s)
        self._stream.feed(_QUERIES.sub(b"", data))
        return data

    def _written(self, timeout_s: float) -> bytes:
        ready, _, _ = select.select([self._master], [], [], timeout_s)
        if not ready:
            return b""
        try:
            data = os.read(self._master, 65536)
        except OSError:
            return b""
        self.wire += data
        if _SYNC_QUERY in data:
            os.write(self._master, _SYNC_ANSWER)
        return data

    def settle(self, quiet_s: float = 0.06) -> None:
        """Read until nothing more comes by itself for a time."""
        while self.read(quiet_s):
            pass

    def press(self, key: str, quiet_s: float = 0.06) -> Answer:
        """Press a key, and take in what it brings until nothing comes for a time."""
        before, cpu, begun = len(self.wire), self._cpu_s(), time.perf_counter()
        self.type(key)
        first = settled = 0.0
        data = self._written(1.0)
        while data:
            settled = time.perf_counter() - begun
            first = first or settled
            data = self._written(quiet_s)
        wrote = bytes(self.wire[before:])
        self._stream.feed(_QUERIES.sub(b"", wrote))
        return Answer(first, settled, self._cpu_s() - cpu, len(wrote))

    def _cpu_s(self) -> float:
        """Return how long the program has kept a processor busy."""
        threads = Path(f"/proc/{self.process.pid}/task").glob("*/schedstat")
        return sum(int(one.read_text("ascii").split()[0]) for one in threads) / 1e9

    @property
    def text(self) -> str:
        """What the screen shows now."""
        return "\n".join(line.rstrip() for line in self.screen.display)

    def wait(self, *wanted: str | Callable[[str], bool], gone: Sequence[str] = ()) -> str:
        """Wait until the screen shows all of this, and nothing of what is to be gone."""
        end = time.monotonic() + DEADLINE_S

        def shown(one: str | Callable[[str], bool]) -> bool:
            return one in self.text if isinstance(one, str) else one(self.text)

        while not all(map(shown, wanted)) or any(one in self.text for one in gone):
            left = end - time.monotonic()
            if left <= 0:
                raise AssertionError(f"waited for {wanted}, gone {gone}; shown:\n{self.text}")
            if not self.read(min(left, 0.25)) and self.process.poll() is not None:
                while self.read(0.05):
                    pass
                if all(map(shown, wanted)):
                    break
                raise AssertionError(f"ended while waiting for {wanted}; shown:\n{self.text}")
        self._at = time.monotonic()
        return self.text

    def type(self, text: str) -> None:
        """Type keys; the first not so soon after the same one that it is taken for a bounce."""
        while text[0] == self._last and (left := self._at + BOUNCE_S - time.monotonic()) > 0:
            self.read(left)
        os.write(self._master, text.encode())
        self._last, self._at = text[-1], time.monotonic()

    def enter(self) -> None:
        """Press Enter."""
        self.type("\r")

    def resize(self, columns: int, rows: int) -> None:
        """Give the terminal another size."""
        self.screen.resize(rows, columns)
        _size(self._master, columns, rows)

    # -- its end ---------------------------------------------------------------------------------

    def end(self) -> int:
        """Wait until the program has ended by itself, and return its code."""
        end = time.monotonic() + DEADLINE_S
        while self.process.poll() is None:
            if time.monotonic() > end:
                self.process.kill()
                raise AssertionError(f"did not end; shown:\n{self.text}")
            self.read(0.05)
        while self.read(0.05):
            pass
        return self.process.returncode

    def signal(self, number: signal.Signals) -> None:
        """Send a signal to the program."""
        self.process.send_signal(number)

    def stopped(self) -> None:
        """Wait until a signal has stopped the program."""
        while os.waitid(os.P_PID, self.process.pid, os.WSTOPPED | os.WNOHANG | os.WNOWAIT) is None:
            self.read(0.01)

    def close(self) -> None:
        """Kill what still runs and let the terminal go."""
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        os.close(self._master)

    def __enter__(self) -> Program:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def restored(self) -> bool:
        """Tell whether the terminal is as it was: cooked, cursor shown, main screen, no mouse."""
        wire = bytes(self.wire)
        return (
            termios.tcgetattr(self._master)[3] == self.before[3]
            and wire.rfind(b"\x1b[?25h") > wire.rfind(b"\x1b[?25l")
            and wire.rfind(b"\x1b[?1049l") > wire.rfind(b"\x1b[?1049h")
        )


def digit(board: str, title: str) -> str:
    """Return the digit that begins a round, as the board shows it."""
    found = re.search(rf"(\d)\s+{title}", board)
    assert found, board
    return found[1]


def _size(fd: int, columns: int, rows: int) -> None:
    fcntl.ioctl(fd, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))


def command() -> Path:
    """Where the installed command lies, beside this Python."""
    return Path(sys.executable).with_name("rounds")
