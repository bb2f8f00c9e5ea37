"""A sync that finds nothing to do, of five years of sealed files, against rsync's: minima.

Run by hand: python -m tests.bench.carrying [FILES]. The files are small: of a sync without work
their bytes are never read.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path

from rounds.records.layout import sealed_tree
from rounds.records.sync import sync
from tests.faults.carried import sealed_book
from tests.faults.row import SITE
from tests.faults.servers import There, a_folder, impossible, openssh

FILES = 5478
"""Of three laptops, one a day each, in five years."""
TURNS = 7


def main() -> None:
    """Print a line for a folder, and one for SFTP where this machine has a server."""
    files = int(sys.argv[1]) if sys.argv[1:] else FILES
    if shutil.which("rsync") is None:
        print("rsync is not installed: nothing to compare with")
        return
    with tempfile.TemporaryDirectory() as place:
        root = Path(place)
        os.environ["ROUNDS_STATE"] = str(root / "state")
        farm = root / "farm"
        sealed_book(farm, files)
        tree = sealed_tree(farm / "records")
        with a_folder(root) as there:
            _compared(farm, there, ["rsync", "-a", f"{tree}/", f"{root / 'rsynced'}/"])
        with nullcontext() if impossible("SFTP (openssh)") else openssh(root) as there:
            if there is not None:
                _compared(farm, there, _over_ssh(root, there, tree))


def _over_ssh(root: Path, there: There, tree: Path) -> list[str]:
    user, _, rest = there.address.removeprefix("sftp://").partition("@")
    port = rest.partition("/")[0].rpartition(":")[2]
    ssh = root / "home" / ".ssh"
    shell = f"ssh -p {port} -i {ssh}/id_ed25519 -o UserKnownHostsFile={ssh}/known_hosts"
    target = f"{user}@127.0.0.1:{root / 'served' / 'rsynced'}/"
    return ["rsync", "-a", "-e", shell, f"{tree}/", target]


def _compared(farm: Path, there: There, rsync: list[str]) -> None:
    def ours() -> None:
        assert sync(farm, SITE, there.address).sent in (0, first)

    def theirs() -> None:
        subprocess.run(rsync, check=True)

    first = len(list(sealed_tree(farm / "records").rglob("*.jsonl")))
    ours()
    theirs()
    times: dict[Callable[[], None], list[float]] = {ours: [], theirs: []}
    for _ in range(TURNS):
        for one, taken in times.items():
            begun = time.perf_counter()
            one()
            taken.append(time.perf_counter() - begun)
    best, other = min(times[ours]), min(times[theirs])
    print(
        f"a sync without work   {best:6.3f} s with {there.words}, {first} files; rsync "
        f"{other:.3f} s: ratio {best / other:.2f} (aim 1.5)"
    )


if __name__ == "__main__":
    main()
