"""The command line: `main` is the entry point; each verb has a file of its own, imported when it is called."""

from __future__ import annotations

import sys
from collections.abc import Sequence


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and leave with its exit code.

    0 done · 1 steadfeed itself failed · 2 bad usage or bad input · 3 some of several files were bad · 130 stopped by
    Ctrl-C · 141 the reader of the output went away.
    """
    from steadfeed.cli.root import run

    sys.exit(run(sys.argv[1:] if arguments is None else arguments))
