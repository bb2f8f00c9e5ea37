"""Real servers on this machine, for one part of the harness: openssh, S3, WebDAV."""

from __future__ import annotations

import importlib.util
import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from tests.faults.holding import emptied, held
from tests.faults.row import SITE

BUCKET = "farm-records"


@dataclass(frozen=True)
class There:
    """An address, and how to look at it from behind."""

    words: str
    address: str
    held: Callable[[], dict[str, bool]]
    emptied: Callable[[], None]
    cut: Callable[[], None] | None = None
    """Kills what serves the connections that are open; a new one may be opened at once."""


@contextmanager
def a_folder(place: Path) -> Iterator[There]:
    """A folder, as a stick or a share is one."""
    (place / "stick").mkdir()
    yield _folder("a folder", str(place / "stick"), place / "stick")


@contextmanager
def openssh(place: Path) -> Iterator[There]:
    """The system's own sshd on loopback, with keys made now and a home that knows them."""
    root, home, etc = place / "served", place / "home", place / "sshd"
    for folder in (root, home / ".ssh", etc):
        folder.mkdir(parents=True, mode=0o700)
    for key in (etc / "host", home / ".ssh" / "id_ed25519"):
        _run("ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-f", key)
    public = (home / ".ssh" / "id_ed25519.pub").read_text()
    (etc / "allowed").write_text(public)
    port = _port()
    (etc / "config").write_text(
        f"Port {port}\nListenAddress 127.0.0.1\nHostKey {etc}/host\nPidFile none\nUsePAM no\n"
        f"AuthorizedKeysFile {etc}/allowed\nStrictModes no\nPasswordAuthentication no\n"
        "PermitRootLogin prohibit-password\nSubsystem sftp internal-sftp\nMaxStartups 100\n"
    )
    host = (etc / "host.pub").read_text().split()
    (home / ".ssh" / "known_hosts").write_text(f"[127.0.0.1]:{port} {host[0]} {host[1]}\n")
    Path("/run/sshd").mkdir(exist_ok=True)
    user = subprocess.run(["id", "-un"], capture_output=True, text=True, check=True).stdout.strip()
    sshd = shutil.which("sshd") or "/usr/sbin/sshd"
    serve = [sshd, "-D", "-f", etc / "config"]
    with _process(port, serve, HOME=str(home), SSH_AUTH_SOCK="") as server:
        there = _folder("SFTP (openssh)", f"sftp://{user}@127.0.0.1:{port}{root}", root)
        yield replace(there, cut=lambda: _kill_sessions(server))


@contextmanager
def s3(place: Path) -> Iterator[There]:
    """A server that speaks S3 (moto), in memory."""
    port = _port()
    url = f"http://127.0.0.1:{port}"
    keys = {"AWS_ACCESS_KEY_ID": "farm", "AWS_SECRET_ACCESS_KEY": "farm-secret"}
    where = {"AWS_DEFAULT_REGION": "us-east-1", "AWS_ENDPOINT_URL": url, "HOME": str(place)}
    serve = [sys.executable, "-m", "moto.server", "-H", "127.0.0.1", "-p", port]
    with _process(port, serve, **keys, **where):
        from botocore.session import get_session

        client = get_session().create_client("s3")
        client.create_bucket(Bucket=BUCKET)
        yield There(
            "S3 (moto)", f"s3://{BUCKET}/farm", lambda: _objects(client), lambda: _deleted(client)
        )


@contextmanager
def webdav(place: Path) -> Iterator[There]:
    """A WebDAV server (wsgidav) over a folder."""
    root, port = place / "served", _port()
    root.mkdir()
    serve = [
        sys.executable, "-m", "wsgidav.server.server_cli", "--host", "127.0.0.1", "--port", port,
        "--root", root, "--auth", "anonymous", "--server", "cheroot", "--no-config", "-q",
    ]  # fmt: skip
    with _process(port, serve):
        yield _folder("WebDAV (wsgidav)", f"webdav://127.0.0.1:{port}", root)


SERVERS: dict[str, tuple[Callable[[Path], AbstractContextManager[There]], tuple[str, ...]]] = {
    "a folder": (a_folder, ()),
    "SFTP (openssh)": (openssh, ("sshfs",)),
    "S3 (moto)": (s3, ("s3fs", "moto", "flask")),
    "WebDAV (wsgidav)": (webdav, ("webdav4", "wsgidav", "cheroot")),
}
"""Of each address what serves it, and the modules it needs."""


def impossible(words: str) -> str:
    """Say why there can be no such address here; empty when there can."""
    lacks = [name for name in SERVERS[words][1] if importlib.util.find_spec(name) is None]
    if lacks:
        return f"{' and '.join(lacks)} not installed"
    if "openssh" in words and not (shutil.which("sshd") or Path("/usr/sbin/sshd").is_file()):
        return "sshd is not installed"
    return ""


def _folder(words: str, address: str, root: Path) -> There:
    return There(words, address, lambda: held(root / SITE), lambda: emptied(root / SITE))


def _kill_sessions(server: int) -> None:
    """Kill the processes that a server of ours forked for its connections."""
    for status in Path("/proc").glob("[0-9]*/stat"):
        with suppress(OSError):
            if int(status.read_text().rpartition(")")[2].split()[1]) == server:
                os.kill(int(status.parent.name), 9)


def _objects(client: Any) -> dict[str, bool]:
    from hashlib import sha256

    found = {}
    pages = client.get_paginator("list_objects_v2").paginate(Bucket=BUCKET)
    for item in (one for page in pages for one in page.get("Contents", ())):
        name = "/".join(item["Key"].split("/")[-2:])
        if name.endswith(".jsonl"):
            data = client.get_object(Bucket=BUCKET, Key=item["Key"])["Body"].read()
            found[name] = sha256(data).hexdigest()[:32] in name
    return found


def _deleted(client: Any) -> None:
    pages = client.get_paginator("list_objects_v2").paginate(Bucket=BUCKET)
    for item in [one for page in pages for one in page.get("Contents", ())]:
        client.delete_object(Bucket=BUCKET, Key=item["Key"])


def _run(*words: object) -> None:
    subprocess.run([str(word) for word in words], check=True, capture_output=True)


def _port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


@contextmanager
def _process(port: int, words: list[Any], **env: str) -> Iterator[int]:
    """Run a server until the end, and let this process and its children see `env`."""
    before = dict(os.environ)
    os.environ.update(env)
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    server = subprocess.Popen([str(word) for word in words], **quiet)  # type: ignore[call-overload]
    try:
        for _ in range(200):
            with socket.socket() as tried:
                if not tried.connect_ex(("127.0.0.1", port)):
                    break
            if server.poll() is not None:
                raise RuntimeError(f"{words[0]} ended with {server.returncode}")
            time.sleep(0.05)
        yield server.pid
    finally:
        server.terminate()
        server.wait()
        os.environ.clear()
        os.environ.update(before)
