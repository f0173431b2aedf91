"""The web application: routes behind the gate, errors as one sentence, the phone's app when it is built."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any, Final

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException

from steadfeed.errors import FixInput, InstallPart, NotAllowed, SteadfeedError, TryAgain, own_error
from steadfeed.visit.station import Station
from steadfeed.web.gate import API, App, Gate, Reach
from steadfeed.web.models.common import Failure
from steadfeed.web.sessions import SessionBook

#: Where the built phone app lies in an installation that has it.
APP_FOLDER: Final = Path(__file__).parent / "app"
_STATUS: Final[tuple[tuple[type[SteadfeedError], int], ...]] = (
    (NotAllowed, 409),
    (InstallPart, 501),
    (TryAgain, 503),
    (FixInput, 422),
)
#: What any endpoint may answer beside its success.
FAILURES: Final[dict[int | str, dict[str, Any]]] = {
    401: {"model": Failure, "description": "No session: open a new link"},
    403: {"model": Failure, "description": "Foreign origin, or a device that may only read"},
    404: {"model": Failure, "description": "There is nothing under that identity"},
    409: {"model": Failure, "description": "Forbidden as things stand"},
    422: {"model": Failure, "description": "Correct what was sent"},
    501: {"model": Failure, "description": "An optional part is not installed"},
    503: {"model": Failure, "description": "Try again"},
}


def create_app(station: Station, book: SessionBook, reach: Reach, *, app_folder: Path | None = None) -> FastAPI:
    """Make the application. station: the open store; book: sessions; reach: under which names it answers."""
    from steadfeed.web.routes import all_routers

    @asynccontextmanager
    async def life(app: FastAPI) -> AsyncIterator[None]:
        await app.state.start()
        yield
        await app.state.stop()

    app = FastAPI(
        title="steadfeed",
        version="1",
        summary="The challenge of a refrigerant metering device, guided, guarded and judged.",
        description="All numbers are SI; times are seconds since the Unix epoch. See docs/api.md.",
        openapi_url=f"{API}/openapi.json",
        docs_url=None,
        redoc_url=None,
        separate_input_output_schemas=False,
        lifespan=life,
    )
    from steadfeed.web.stream import Streams

    app.state.station = station
    app.state.book = book
    app.state.app_folder = APP_FOLDER if app_folder is None else app_folder
    streams = Streams(station)
    app.state.streams = streams
    app.state.start, app.state.stop = streams.start, streams.stop
    for router in all_routers():
        app.include_router(router, responses=FAILURES)
    _errors(app)
    _pages(app)
    _gate(app, reach, book)
    return app


def _gate(app: FastAPI, reach: Reach, book: SessionBook) -> None:
    def known(token: str) -> bool:
        station: Station = app.state.station
        return station.sources.gateways.known(token)

    def make(inner: App) -> Gate:
        return Gate(inner, reach=reach, book=book, gateway=known)

    app.add_middleware(make)
    from steadfeed.web.pairing import Limits

    app.add_middleware(Limits)  # outermost: what is asked too often is not even looked at


def _errors(app: FastAPI) -> None:
    @app.exception_handler(SteadfeedError)
    async def own(request: Request, error: SteadfeedError) -> JSONResponse:
        if "foreign key" in error.message.lower():  # the store looks up what a row belongs to; we say it in a sentence
            return failure(404, "no such thing", "What this belongs to is not in the records", None)
        return failure(status_of(error), error.code, error.message, error.where)

    @app.exception_handler(RequestValidationError)
    async def shape(request: Request, error: RequestValidationError) -> JSONResponse:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"] if part not in ("body", "query", "path"))
        return failure(422, "bad request", f"{where or 'The request'}: {_plain(str(first['msg']))}", where or None)

    @app.exception_handler(HTTPException)
    async def http(request: Request, error: HTTPException) -> JSONResponse:
        words = {404: "There is nothing here", 405: "This cannot be done here"}
        said = words.get(error.status_code, str(error.detail))
        return failure(error.status_code, "not here" if error.status_code == 404 else "not offered", said, None)

    @app.exception_handler(Exception)
    async def unknown(request: Request, error: Exception) -> JSONResponse:
        known = own_error(error)
        return failure(500, known.code, known.message, None)


def _plain(text: str) -> str:
    return text[:1].lower() + text[1:]


def status_of(error: SteadfeedError) -> int:
    """Return the HTTP status of one of our errors."""
    if error.code.startswith("no such "):
        return 404
    if error.code == "token spent":
        return 401
    return next((status for kind, status in _STATUS if isinstance(error, kind)), 500)


def failure(status: int, code: str, message: str, where: str | None) -> JSONResponse:
    """Return the answer of something that went wrong."""
    return JSONResponse({"error": {"code": code, "message": message, "where": where}}, status)


def _pages(app: FastAPI) -> None:
    from steadfeed.web.pages import APP_MISSING, page_file

    @app.get("/open", include_in_schema=False)
    def open_link(request: Request, token: str = "", device: str = "this device") -> Response:
        from steadfeed.web.routes.meta import with_cookie

        try:
            text, guest = book_of(request).exchange(token, device[:100])
        except SteadfeedError as error:
            return Response(error.message, status_of(error), media_type="text/plain")
        answer = Response(status_code=303, headers={"location": "/"})
        with_cookie(answer, text, guest.expires_at - station_of(request).clock())
        return answer

    @app.get("/{path:path}", include_in_schema=False)
    def page(request: Request, path: str) -> Response:
        if path.startswith("api/"):
            raise HTTPException(404)
        folder: Path = request.app.state.app_folder
        if not (folder / "index.html").is_file():
            return Response(APP_MISSING, 200, media_type="text/html")
        return page_file(folder, path)


def station_of(request: Any) -> Station:
    """Return the station behind a request or socket."""
    station: Station = request.app.state.station
    return station


def book_of(request: Any) -> SessionBook:
    """Return the sessions behind a request."""
    book: SessionBook = request.app.state.book
    return book
