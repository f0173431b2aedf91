"""The real server as a program whose clock a test moves: `python clocked_server.py STORE PORT CLOCK_FILE`.

CLOCK_FILE holds the seconds by which the clock is ahead of the real one. It prints the one-time link and can be killed.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path


def main() -> None:
    import uvicorn

    from steadfeed.web.serving import make

    store, port, ahead = sys.argv[1], int(sys.argv[2]), Path(sys.argv[3])

    def clock() -> float:
        return time.time() + float(ahead.read_text() or 0.0)

    app, book, _ = make(store, port, clock)
    print(f"http://localhost:{port}/open?token={book.mint()}", flush=True)
    uvicorn.run(app, port=port, log_level="warning", ws="websockets-sansio")


if __name__ == "__main__":
    main()
