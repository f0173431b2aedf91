"""The API's contract: the document that is published is the one that answers, its names are stable, no request breaks it."""

from __future__ import annotations

import json
import os
import re
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.errors import Unsatisfiable
from schemathesis import GenerationMode

from steadfeed.visit.station import Station
from steadfeed.web.app import create_app
from steadfeed.web.gate import COOKIE, localhost
from steadfeed.web.sessions import SessionBook
from web_server import Served, serving

PUBLISHED = Path(__file__).parents[2] / "docs" / "reference" / "openapi.json"
#: Operations of version 1. A name here is a promise: it may be joined by others, never changed or taken away.
OPERATIONS = frozenset(
    [
        "about",
        "act",
        "addAction",
        "addGatewayToken",
        "addRow",
        "addSource",
        "addSpot",
        "addUnit",
        "answerPractice",
        "attach",
        "beginChallenge",
        "beginPractice",
        "chargeWith",
        "closeVisit",
        "drainQueue",
        "editThing",
        "endGatewayToken",
        "endPractice",
        "endSession",
        "findUnits",
        "getAbout",
        "getAttachment",
        "getChallenge",
        "getChannelMap",
        "getChoices",
        "getCoefficients",
        "getCriteria",
        "getCriterion",
        "getDayPack",
        "getEdits",
        "getFrames",
        "getGatewayTokens",
        "getGoldenVectors",
        "getJudgement",
        "getLog",
        "getOwnChannelMap",
        "getPeople",
        "getPractice",
        "getReadings",
        "getRefrigerants",
        "getReplay",
        "getReportPage",
        "getReportPdf",
        "getScenarios",
        "getScore",
        "getSentences",
        "getSession",
        "getSettings",
        "getSourceKinds",
        "getSources",
        "getSpot",
        "getSystemFile",
        "getToday",
        "getUnit",
        "getVisit",
        "handOver",
        "handOverCodes",
        "ingest",
        "judgeAgain",
        "mark",
        "missingCodes",
        "moveRefrigerant",
        "noteVisit",
        "openSession",
        "openVisit",
        "pair",
        "putBack",
        "removeSource",
        "reopenVisit",
        "sayAlive",
        "search",
        "setAside",
        "setChannelMap",
        "setPath",
        "setPerson",
        "setPractice",
        "setSettings",
        "takeOver",
        "takeOverCodes",
        "undo",
        "undoEdit",
        "withdraw",
    ]
) - {"about"}


@pytest.fixture(scope="module")
def document(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    with Station(str(tmp_path_factory.mktemp("store") / "records.db")) as station:
        app = create_app(station, SessionBook(None, time.time), localhost(8765))
        found: dict[str, Any] = app.openapi()
    return found


def operations(document: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            yield path, method, operation


def test_the_published_document_is_the_one_that_answers(document: dict[str, Any]) -> None:
    published = json.loads(PUBLISHED.read_text(encoding="utf-8"))
    assert published == json.loads(json.dumps(document)), (
        "write docs/reference/openapi.json anew: tools/api_document.py"
    )


def test_every_operation_has_its_stable_name_its_words_and_its_place(document: dict[str, Any]) -> None:
    names = [operation["operationId"] for _, _, operation in operations(document)]
    assert len(names) == len(set(names))
    assert set(names) >= OPERATIONS, f"gone: {sorted(OPERATIONS - set(names))}"
    for path, method, operation in operations(document):
        assert re.fullmatch(r"[a-z][a-zA-Z]+", operation["operationId"]), (path, method)
        assert operation.get("description", "").strip(), f"{method} {path} says nothing of itself"
        assert operation.get("tags"), f"{method} {path} stands nowhere"
        assert path.startswith("/api/v1/")


def test_every_model_says_what_it_is(document: dict[str, Any]) -> None:
    for name, schema in document["components"]["schemas"].items():
        if name in ("HTTPValidationError", "ValidationError"):
            continue
        assert schema.get("description", "").strip(), f"{name} says nothing of itself"


def test_the_page_on_the_api_speaks_of_every_act_and_every_kind_of_frame(document: dict[str, Any]) -> None:
    from steadfeed.visit.guide import ACT_CODES

    page = (PUBLISHED.parents[1] / "api.md").read_text(encoding="utf-8")
    for code in ACT_CODES:
        assert f"`{code}`" in page, code
    for frame in ("hello", "history", "readings", "state"):
        assert f"`{frame}`" in page
    for kind in document["components"]["schemas"]["QueueItem"]["properties"]["kind"]["enum"]:
        assert kind in page, kind


def test_errors_have_one_form_everywhere(document: dict[str, Any]) -> None:
    for path, method, operation in operations(document):
        for status in ("401", "403", "404", "409", "422", "503"):
            answer = operation["responses"].get(status)
            assert answer, f"{method} {path} does not say what {status} looks like"
            assert answer["content"]["application/json"]["schema"]["$ref"].endswith("/Failure")


# -- no request breaks it -------------------------------------------------------------------------------------------------
@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with serving(tmp_path_factory.mktemp("fuzzed")) as server:
        yield server


#: They would start machines, end the session that the others need, or wait for a gateway: tested by themselves.
APART = ("beginPractice", "addSource", "endSession", "ingest")
SCHEMA = schemathesis.openapi.from_dict(json.loads(PUBLISHED.read_text(encoding="utf-8")))
FUZZED = {
    operation.ok().definition.raw["operationId"]: operation.ok()
    for operation in SCHEMA.get_all_operations()
    if operation.ok().definition.raw["operationId"] not in APART
}


@pytest.mark.parametrize("name", sorted(FUZZED))
def test_no_request_breaks_the_api(name: str, served: Served) -> None:
    """Requests of the right shape, and of the wrong one, get an answer that the document describes."""
    operation = FUZZED[name]
    client = served.client()
    wrong = GenerationMode.NEGATIVE if operation.body or operation.query or operation.path_parameters else None
    for mode in (GenerationMode.POSITIVE, wrong):
        if mode is None:
            continue

        @given(case=operation.as_strategy(generation_mode=mode))
        @settings(
            max_examples=10 if not FULL else 100, deadline=None, phases=(Phase.explicit, Phase.generate), database=None,
            suppress_health_check=list(HealthCheck),
        )  # fmt: skip
        def one(case: Any) -> None:
            case.headers = {**(case.headers or {}), "origin": served.origin, "cookie": f"{COOKIE}={client.session}"}
            answer = case.call(base_url=served.origin, timeout=60)
            assert answer.status_code < 500 or answer.status_code in (501, 503), (
                f"{answer.status_code}: {answer.text[:500]}"
            )
            if answer.status_code in (200, 201):
                operation.validate_response(answer)
            if answer.status_code >= 400 and answer.content:
                error = answer.json()["error"]
                assert error["code"]
                assert error["message"]
                assert "Traceback" not in error["message"]

        try:
            one()
        except Unsatisfiable:  # a bare text in the path has no wrong value
            assert mode is GenerationMode.NEGATIVE


FULL = os.environ.get("FULL", "") not in ("", "0")
