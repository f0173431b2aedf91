"""The OpenAPI document of the server, as it publishes it; run as a program it writes the app's typed client anew."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]


def document() -> dict[str, Any]:
    """Return the document of a server on an empty store."""
    from steadfeed.web.serving import make

    with tempfile.TemporaryDirectory() as folder:
        app, _, _ = make(str(Path(folder) / "store.db"), 8765)
        try:
            found: dict[str, Any] = app.openapi()
            return found
        finally:
            app.state.station.close()


def main() -> int:
    """Write webapp/src/api/schema.d.ts."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "openapi.json"
        file.write_text(json.dumps(document()))
        command = ["npx", "--no-install", "openapi-typescript", str(file), "-o", "src/api/schema.d.ts"]
        return subprocess.run(command, cwd=ROOT / "webapp", check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
