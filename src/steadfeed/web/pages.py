"""Files of the phone's app, and the page that says that it is not built."""

from __future__ import annotations

import mimetypes
from pathlib import Path
from typing import Final

from starlette.responses import FileResponse, Response

APP_MISSING: Final = """<!doctype html>
<html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>steadfeed</title>
<h1>The phone app is not part of this installation</h1>
<p>The API answers under <code>/api/v1</code>, and <code>steadfeed live</code> guides a challenge in the terminal.
To get the app, install a wheel of steadfeed, or build it where node is installed.</p>
</html>
"""


def page_file(folder: Path, path: str) -> Response:
    """Return a file of the app; a path that is none of its files is a screen of the app, so its page."""
    wanted = (folder / path).resolve() if path else folder / "index.html"
    inside = wanted == folder.resolve() or folder.resolve() in wanted.parents
    if not inside or not wanted.is_file():
        if "." in path.rsplit("/", 1)[-1]:
            return Response("There is nothing here", 404, media_type="text/plain")
        wanted = folder / "index.html"
    media = mimetypes.guess_type(wanted.name)[0] or "application/octet-stream"
    if wanted.suffix == ".webmanifest":
        media = "application/manifest+json"
    # names with a hash never change; the page and the service worker are asked for again each time
    hashed = wanted.parent.name == "assets"
    keep = "public, max-age=31536000, immutable" if hashed else "no-cache"
    return FileResponse(wanted, media_type=media, headers={"cache-control": keep})
