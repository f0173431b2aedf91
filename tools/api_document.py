"""Write docs/reference/openapi.json anew from the application: `python tools/api_document.py`."""

from __future__ import annotations

import json
import tempfile
import time
from pathlib import Path

from steadfeed.visit.station import Station
from steadfeed.web.app import create_app
from steadfeed.web.gate import localhost
from steadfeed.web.sessions import SessionBook

PLACE = Path(__file__).parents[1] / "docs" / "reference" / "openapi.json"


def main() -> None:
    """Write it."""
    with tempfile.TemporaryDirectory() as folder, Station(str(Path(folder) / "records.db")) as station:
        document = create_app(station, SessionBook(None, time.time), localhost(8765)).openapi()
    PLACE.write_text(json.dumps(document, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    print(f"{len(document['paths'])} paths, {len(document['components']['schemas'])} models")


if __name__ == "__main__":
    main()
