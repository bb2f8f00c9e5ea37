"""A real SFTP server on this machine, for one test run: asyncssh's, in a thread of its own."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import asyncssh


class Server:
    """Serves a folder; says where, and which key it shows."""

    def __init__(self, root: Path, key: asyncssh.SSHKey, client: asyncssh.SSHKey) -> None:
        self.root = root
        self.port = 0
        self.key = key.export_public_key().decode().strip()
        self._key = key
        self._client = client
        self._loop = asyncio.new_event_loop()
        self._ready = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._acceptor: asyncssh.SSHAcceptor | None = None
        self._connections: list[asyncssh.SSHServerConnection] = []

    def start(self) -> None:
        self._thread.start()
        assert self._ready.wait(10)

    def stop(self) -> None:
        if self._thread.is_alive():
            self._loop.call_soon_threadsafe(self._loop.stop)
            self._thread.join(10)

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        self._loop.run_until_complete(self._listen())
        self._ready.set()
        self._loop.run_forever()
        if self._acceptor is not None:
            self._loop.run_until_complete(self._ended(self._acceptor))
        self._loop.close()

    async def _ended(self, acceptor: asyncssh.SSHAcceptor) -> None:
        acceptor.close()
        await acceptor.wait_closed()
        for connection in self._connections:
            connection.abort()
            await connection.wait_closed()
        others = asyncio.all_tasks() - {asyncio.current_task()}
        await asyncio.wait(others, timeout=5) if others else None

    async def _listen(self) -> None:
        allowed = asyncssh.import_authorized_keys(self._client.export_public_key().decode())
        self._acceptor = await asyncssh.listen(
            "127.0.0.1", 0, server_host_keys=[self._key], authorized_client_keys=allowed,
            acceptor=self._connections.append,
            sftp_factory=lambda chan: asyncssh.SFTPServer(chan, chroot=str(self.root).encode()),
        )  # fmt: skip
        self.port = self._acceptor.get_port()


@contextmanager
def serving(root: Path, home: Path) -> Iterator[Server]:
    """Serve `root`; `home` becomes a home whose ssh key is let in and that knows the host."""
    key, client = (asyncssh.generate_private_key("ssh-ed25519") for _ in range(2))
    ssh = home / ".ssh"
    ssh.mkdir(parents=True, mode=0o700)
    client.write_private_key(ssh / "id_ed25519")
    server = Server(root, key, client)
    server.start()
    try:
        (ssh / "known_hosts").write_text(f"[127.0.0.1]:{server.port} {server.key}\n")
        yield server
    finally:
        server.stop()
