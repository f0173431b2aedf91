"""A program that writes until there is no room, says so, waits for room, and goes on. Run by the tests.

usage: filling.py STORE CHALLENGE WAY, where WAY is "limit" (this process may not make larger files) or "disk" (a small
disk of its own was mounted, with a ballast file on it that can be thrown off).
"""

from __future__ import annotations

import contextlib
import json
import resource
import signal
import sys
from pathlib import Path

from writing import NOW, reading_of

from steadfeed.errors import TryAgain
from steadfeed.records.store import open_store
from steadfeed.records.writer import GroupWriter


def main() -> None:
    path, challenge, way = Path(sys.argv[1]), sys.argv[2], sys.argv[3]
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    acknowledged: list[int] = []
    said: list[str] = []
    with open_store(path) as store, GroupWriter(store) as writer:
        if way == "limit":
            resource.setrlimit(resource.RLIMIT_FSIZE, (path.stat().st_size + 300_000, resource.RLIM_INFINITY))
        n = 0
        while not said and n < 500_000:
            some = [reading_of("gauge", k) for k in range(n, n + 200)]
            try:
                writer.append(challenge, some, NOW).result()
            except TryAgain as error:
                said.append(f"{error.code}: {error.message}")
            else:
                acknowledged += [r.sequence for r in some]
                n += 200
        refused = n
        with contextlib.suppress(TryAgain):  # still no room: still a clear answer, and no harm
            writer.append(challenge, [reading_of("gauge", k) for k in range(n, n + 200)], NOW).result()
        if way == "limit":
            resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        else:
            (path.parent / "ballast").unlink()
        for first in range(refused, refused + 2000, 200):
            some = [reading_of("gauge", k) for k in range(first, first + 200)]
            writer.append(challenge, some, NOW).result()
            acknowledged += [r.sequence for r in some]
    print(json.dumps({"acknowledged": acknowledged, "said": said, "refused_at": refused}))


if __name__ == "__main__":
    main()
