"""Bytes of a file, or one sentence on why there are none."""

from __future__ import annotations

import os
import stat

from steadfeed.capture.limits import MAX_BYTES, too_big
from steadfeed.errors import FixInput


def read_bytes(path: str | os.PathLike[str], limit: int = MAX_BYTES) -> bytes:
    """Read a file whole. limit: most bytes that are read. Raises FixInput when it cannot be or is too big."""
    name = os.fspath(path)
    try:
        status = os.stat(name)
        if stat.S_ISDIR(status.st_mode):
            raise FixInput(f"{name} is a folder; name a file", code="is a folder", where=name)
        if not stat.S_ISREG(status.st_mode):
            raise FixInput(f"{name} is no ordinary file; name a file", code="no file", where=name)
        if status.st_size > limit:
            raise too_big(name, status.st_size, limit)
        with open(name, "rb") as file:
            data = file.read(limit + 1)
    except FileNotFoundError:
        raise FixInput(f"{name} does not exist; check the name", code="no such file", where=name) from None
    except PermissionError:
        raise FixInput(f"{name} may not be read; check its permissions", code="not readable", where=name) from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise FixInput(f"{name} cannot be read ({reason.lower()})", code="not readable", where=name) from None
    if len(data) > limit:  # it grew meanwhile
        raise too_big(name, len(data), limit)
    return data
