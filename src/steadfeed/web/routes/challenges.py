"""A challenge while it runs, and its papers afterwards. The live stream itself is in `stream`."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Response

from steadfeed.visit import live_papers
from steadfeed.visit.sentences import Speech
from steadfeed.web.gate import API, REPORT_SECURITY
from steadfeed.web.models import live as m
from steadfeed.web.models import records as r
from steadfeed.web.models.common import Id, Language, Made, UnitSystem
from steadfeed.web.work import At, Who, Work, live_of, work_of

router = APIRouter(prefix=API, tags=["challenge"])
InLanguage = Annotated[Language, Query(description="of the texts of sentences")]
InUnits = Annotated[UnitSystem, Query(description="of the numbers inside of texts")]


@router.post("/visits/{visit_id}/challenges", operation_id="beginChallenge", status_code=201)
def begin(
    visit_id: Id,
    body: m.ChallengeIn,
    work: Work,
    station: At,
    who: Who,
    language: InLanguage = "en",
    units: InUnits = "us",
) -> m.ChallengeState:
    """Begin a challenge on a circuit; the guide starts at “look and safe”."""
    live = station.live.begin(
        work,
        visit_id,
        body.circuit_id,
        challenge_id=body.id,
        watched=tuple(body.watched),
        way=body.way,
        mode=body.mode,
        purpose=body.purpose,
        sources=tuple(body.sources),
        found_running=body.found_running,
    )
    live.device_seen(who.device, who.name, who.person, role=body.role, watching=True, recording=body.way != "by hand")
    return m.ChallengeState.model_validate(live.state(Speech(language, units)))


@router.get("/challenges/{challenge_id}", operation_id="getChallenge")
def state(challenge_id: Id, station: At, language: InLanguage = "en", units: InUnits = "us") -> m.ChallengeState:
    """Return the state of a challenge that runs or ran. One that a crash interrupted is taken up again."""
    live = station.home_of(challenge_id).live.get(challenge_id)
    return m.ChallengeState.model_validate(live.state(Speech(language, units)))


@router.post("/challenges/{challenge_id}/acts", operation_id="act")
def act(
    challenge_id: Id, body: m.Act, station: At, who: Who, language: InLanguage = "en", units: InUnits = "us"
) -> m.ChallengeState:
    """Do what a button says. Refusals are kept, with who asked."""
    live, work = live_of(station, challenge_id, who, body.at)
    act_from(live, body, work)
    return m.ChallengeState.model_validate(live.state(Speech(language, units)))


def act_from(live: Any, body: m.Act, work: Any) -> None:
    """Hand an act to the guide; also from a device's queue."""
    live.act(
        work,
        body.id,
        body.act,
        seen=body.seen,
        reason=body.reason,
        check=body.check,
        answer=body.answer,
        cover=body.cover,
        refusal=body.refusal,
        restored=body.restored,
        role=body.role,
    )


@router.post("/challenges/{challenge_id}/marks", operation_id="mark", status_code=201)
def mark(challenge_id: Id, body: m.MarkIn, station: At, who: Who) -> Made:
    """Put a mark on the chart."""
    live, work = live_of(station, challenge_id, who, body.at)
    live.mark(work, body.id, body.event, body.text)
    return Made(id=body.id)


@router.post("/challenges/{challenge_id}/rows", operation_id="addRow", status_code=201)
def row(
    challenge_id: Id, body: m.RowIn, station: At, who: Who, language: InLanguage = "en", units: InUnits = "us"
) -> m.RowKept:
    """Keep a row of the hand pad: values as typed, kept even where they look wrong."""
    live, work = live_of(station, challenge_id, who, body.at)
    speech = Speech(language, units)
    known, questions = row_from(live, body, work, speech)
    return m.RowKept(
        id=body.id,
        known=known,
        questions=[m.Question.model_validate(q) for q in questions],
        state=m.ChallengeState.model_validate(live.state(speech)),
    )


def row_from(live: Any, body: m.RowIn, work: Any, speech: Speech) -> tuple[bool, list[dict[str, Any]]]:
    """Hand a row over; also from a device's queue."""
    found: tuple[bool, list[dict[str, Any]]] = live.row(
        work,
        body.id,
        body.values,
        same=tuple(body.same),
        not_read=tuple(body.not_read),
        read_by=body.read_by,
        number=body.number,
        circuit_id=body.circuit_id,
        speech=speech,
    )
    return found


@router.post("/challenges/{challenge_id}/undo", operation_id="undo")
def undo(
    challenge_id: Id, body: m.Undo, station: At, who: Who, language: InLanguage = "en", units: InUnits = "us"
) -> m.ChallengeState:
    """Take an act, a mark or a row back while that is possible."""
    live, work = live_of(station, challenge_id, who)
    live.undo(work, body.id)
    return m.ChallengeState.model_validate(live.state(Speech(language, units)))


@router.get("/challenges/{challenge_id}/readings", operation_id="getReadings")
def readings(
    challenge_id: Id,
    station: At,
    circuit_id: Id | None = None,
    points: Annotated[int, Query(ge=50, le=20_000)] = 2000,
) -> m.History:
    """Return the readings for a chart, thinned so that its extremes stay."""
    return m.History.model_validate(station.home_of(challenge_id).live.get(challenge_id).history(circuit_id, points))


@router.get("/challenges/{challenge_id}/judgement", operation_id="getJudgement")
def judgement(challenge_id: Id, station: At, who: Who, units: InUnits = "us") -> m.Judgement:
    """Return the standing judgement; while the challenge runs, that of the readings so far."""
    home, work = station.home_of(challenge_id), work_of(station, challenge_id, who)
    return m.Judgement.model_validate(live_papers.judgement_screen(work, home.live, challenge_id, units))


@router.post("/challenges/{challenge_id}/judge", operation_id="judgeAgain", status_code=201)
def judge_again(challenge_id: Id, station: At, who: Who) -> r.VerdictOut:
    """Judge the kept readings by today's method; the verdict is added beside earlier ones."""
    home, work = station.home_of(challenge_id), work_of(station, challenge_id, who)
    return r.VerdictOut.model_validate(live_papers.judge_again(work, home.live, challenge_id))


@router.get(
    "/challenges/{challenge_id}/report.html",
    operation_id="getReportPage",
    response_class=Response,
    responses={200: {"content": {"text/html": {}}, "description": "The report as one file"}},
)
def report_html(challenge_id: Id, station: At, who: Who, units: InUnits = "us") -> Response:
    """Return the report as one HTML file, to open, save or print."""
    content = live_papers.report_html(work_of(station, challenge_id, who), challenge_id, units)
    return Response(content, media_type="text/html", headers={"content-security-policy": REPORT_SECURITY})


@router.get(
    "/challenges/{challenge_id}/report.pdf",
    operation_id="getReportPdf",
    response_class=Response,
    responses={200: {"content": {"application/pdf": {}}, "description": "The report as PDF"}},
)
def report_pdf(
    challenge_id: Id, station: At, who: Who, units: InUnits = "us", page: Literal["letter", "a4"] = "letter"
) -> Response:
    """Return the report as PDF."""
    content, name = live_papers.report_pdf(work_of(station, challenge_id, who), challenge_id, units, page)
    headers = {"content-disposition": f'inline; filename="{name}"'}
    return Response(content, media_type="application/pdf", headers=headers)


@router.get(
    "/challenges/{challenge_id}/log.csv",
    operation_id="getLog",
    response_class=Response,
    responses={200: {"content": {"text/csv": {}}, "description": "The log"}},
)
def log(challenge_id: Id, station: At, who: Who) -> Response:
    """Return the log that `steadfeed judge` reads, every value as received."""
    home, work = station.home_of(challenge_id), work_of(station, challenge_id, who)
    content, name = live_papers.log_file(work, home.live, challenge_id)
    return Response(content, media_type="text/csv", headers={"content-disposition": f'attachment; filename="{name}"'})


@router.get(
    "/challenges/{challenge_id}/system.toml",
    operation_id="getSystemFile",
    response_class=Response,
    responses={200: {"content": {"application/toml": {}}, "description": "The system file"}},
)
def system(challenge_id: Id, station: At, who: Who) -> Response:
    """Return the system file of that log."""
    home, work = station.home_of(challenge_id), work_of(station, challenge_id, who)
    return Response(live_papers.system_file(work, home.live, challenge_id), media_type="application/toml")
