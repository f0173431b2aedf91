"""What the program is, sessions, settings, thresholds, refrigerants, sentences."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Header, Request, Response

from steadfeed.errors import FixInput
from steadfeed.visit import catalog
from steadfeed.web.gate import API, COOKIE
from steadfeed.web.models import setting as m
from steadfeed.web.models.common import Language
from steadfeed.web.sessions import Guest, SessionBook
from steadfeed.web.work import At, Who, Work

router = APIRouter(prefix=API)


def with_cookie(answer: Response, text: str, seconds: float) -> None:
    """Put the session's cookie into an answer. Browsers take a Secure cookie from localhost without TLS too."""
    answer.headers.append(
        "set-cookie", f"{COOKIE}={text}; Path=/; Secure; HttpOnly; SameSite=Strict; Max-Age={int(seconds)}"
    )


def _session(guest: Guest) -> m.Session:
    return m.Session(
        device=guest.device,
        person_id=None,
        person=guest.person,
        role=guest.role,  # type: ignore[arg-type]
        expires_at=guest.expires_at,
    )


@router.post("/session", operation_id="openSession", tags=["session"])
def open_session(request: Request, answer: Response, body: m.Token, station: At) -> m.Session:
    """Exchange a one-time token for a session; the answer carries the cookie."""
    book: SessionBook = request.app.state.book
    text, guest = book.exchange(body.token, body.device)
    with_cookie(answer, text, guest.expires_at - station.clock())
    return _session(guest)


@router.get("/session", operation_id="getSession", tags=["session"])
def get_session(request: Request) -> m.Session:
    """Say who asks."""
    guest: Guest | None = request.scope["state"]["guest"]
    if guest is None:
        from steadfeed.errors import NotAllowed

        raise NotAllowed("Open steadfeed with a new link from `steadfeed serve`", code="token spent")
    return _session(guest)


@router.delete("/session", operation_id="endSession", tags=["session"], status_code=204)
def end_session(request: Request) -> Response:
    """End this device's session."""
    book: SessionBook = request.app.state.book
    if request.scope["state"]["session"]:
        book.end(request.scope["state"]["session"])
    answer = Response(status_code=204)
    with_cookie(answer, "", 0.0)
    return answer


@router.put("/person", operation_id="setPerson", tags=["session"])
def set_person(request: Request, body: m.Person, station: At, who: Who) -> m.Session:
    """Say who works on this device; somebody new is written down."""
    book: SessionBook = request.app.state.book
    work = station.session(who.device, body.name)
    guest = book.name_person(request.scope["state"]["session"], body.name.strip())
    answer = _session(guest)
    answer.person_id = work.person_id
    return answer


@router.get("/about", operation_id="getAbout", tags=["about"])
def about(request: Request, station: At) -> m.About:
    """Say what answers here, and which parts are installed."""
    facts = catalog.about()
    return m.About(
        version=facts["version"],
        method_version=facts["method_version"],
        coefficient_file_version=facts["coefficient_file_version"],
        now=station.clock(),
        store=station.place,
        app_built=(request.app.state.app_folder / "index.html").is_file(),
        parts=[m.Part(**part) for part in facts["parts"]],
        languages=list(catalog.LANGUAGES),
        advice=catalog.ADVICE,
    )


@router.get("/settings", operation_id="getSettings", tags=["settings"])
def get_settings(station: At) -> m.Settings:
    """Return the settings of this installation."""
    return _kept_settings(station)


def _kept_settings(station: At) -> m.Settings:
    known = {k: v for k, v in station.settings().items() if k in m.Settings.model_fields}
    try:
        return m.Settings(**known)
    except ValueError:
        return m.Settings()


@router.put("/settings", operation_id="setSettings", tags=["settings"])
def set_settings(body: m.Settings, station: At) -> m.Settings:
    """Keep the settings of this installation."""
    station.keep_settings(body.model_dump())
    return body


@router.get("/criteria", operation_id="getCriteria", tags=["help"])
def criteria() -> m.Criteria:
    """Return every threshold of the method with its source."""
    fingerprint, rows = catalog.criteria()
    return m.Criteria(fingerprint=fingerprint, criteria=[m.CriterionOut(**row) for row in rows])


@router.get("/criteria/{key}", operation_id="getCriterion", tags=["help"])
def criterion(key: str) -> m.CriterionOut:
    """Return one threshold with its source."""
    for row in catalog.criteria()[1]:
        if row["key"] == key:
            return m.CriterionOut(**row)
    raise FixInput(f"No threshold is called “{key[:60]}”", code="no such criterion", where="key")


@router.get("/refrigerants", operation_id="getRefrigerants", tags=["refrigerants"])
def refrigerants() -> m.Refrigerants:
    """Return the refrigerants whose curves are known, and those that are refused."""
    known, refused = catalog.refrigerants()
    return m.Refrigerants(refrigerants=[m.RefrigerantOut(**row) for row in known], refused=refused)


@router.get(
    "/refrigerants/coefficients",
    operation_id="getCoefficients",
    tags=["refrigerants"],
    response_class=Response,
    responses={
        200: {"content": {"application/json": {}}, "description": "The coefficient file, byte for byte"},
        304: {},
    },
)
def coefficients(if_none_match: Annotated[str | None, Header()] = None) -> Response:
    """Return the coefficient file that the method computes with; its tag is its version."""
    content, version = catalog.coefficients()
    tag = f'"{version}"'
    headers = {"etag": tag, "cache-control": "no-cache"}
    if if_none_match == tag:
        return Response(status_code=304, headers=headers)
    return Response(content, media_type="application/json", headers=headers)


@router.get("/refrigerants/golden", operation_id="getGoldenVectors", tags=["refrigerants"])
def golden() -> m.GoldenVectors:
    """Return inputs and results with which a client proves that it computes as this method does."""
    return m.GoldenVectors(**catalog.golden_vectors())


@router.get("/sentences/{language}", operation_id="getSentences", tags=["help"])
def sentences(language: Language) -> m.Catalog:
    """Return the catalog of screen sentences in one language."""
    return m.Catalog(**catalog.sentences(language))


@router.get("/people", operation_id="getPeople", tags=["session"])
def people(work: Work) -> list[str]:
    """Return the names of the people who work with this store."""
    return catalog.people(work)
