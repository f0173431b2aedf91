"""A program that appends readings and says each number once it is acknowledged. Run by the tests, killed by them.

usage: writing.py SETTING CHALLENGE SOURCE FIRST COUNT THREADS
"""

from __future__ import annotations

import os
import sys
import threading

from steadfeed.records.readings import RawReading
from steadfeed.records.store import open_store
from steadfeed.records.writer import GroupWriter

#: Set, it says “acknowledged” before the store does: the tests must notice that.
LYING = "ACKNOWLEDGE_EARLY" in os.environ
NOW = 1_785_000_000.0


def value_of(sequence: int) -> str:
    """The value that belongs to a number, so that a reading that comes back can be recognised."""
    return f"{100 + sequence * 7919 % 1000 / 10:.1f}"


def reading_of(source: str, sequence: int) -> RawReading:
    return RawReading(
        source=source,
        boot_id="life 1",
        sequence=sequence,
        channel="suction_pressure",
        value=value_of(sequence),
        unit="psig",
        device_time=NOW + sequence / 10,
        utc_offset=0.0,
    )


def main() -> None:
    setting, challenge, source, first, count, threads = sys.argv[1:]
    say = threading.Lock()
    with open_store(setting) as store, GroupWriter(store) as writer:

        def work(k: int) -> None:
            for n in range(int(first) + k, int(first) + int(count), int(threads)):
                done = writer.append(challenge, [reading_of(source, n)], NOW)
                if not LYING:
                    done.result()
                with say:
                    os.write(1, b"%012d\n" % n)

        working = [threading.Thread(target=work, args=(k,)) for k in range(int(threads))]
        for thread in working:
            thread.start()
        for thread in working:
            thread.join()


if __name__ == "__main__":
    main()
