"""What the phone needs beside the guide: causes from spot readings, a visit handed to another device."""

from __future__ import annotations

import io
import uuid
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from web_server import Client, Served, serving

UNIT = {"tag": "W-05", "site": {"name": "Mill house", "altitude": 0.0}, "circuits": [{"refrigerant": "R-410A", "metering_device": "txv"}]}  # fmt: skip
#: R-410A: 105 psig of suction is 33.9 °F dew, 340 psig of head 104.5 °F bubble: much superheat, hardly any subcooling.
UNDERCHARGED = {
    "suction_pressure": "95 psig", "liquid_pressure": "300 psig", "suction_line_temperature": "66 degF",
    "liquid_line_temperature": "94 degF", "outdoor_air_temperature": "85 degF",
}  # fmt: skip


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    with serving(tmp_path) as server:
        yield server


@pytest.fixture
def phone(served: Served) -> Client:
    return served.client()


def visit_on(phone: Client) -> tuple[str, str]:
    unit = phone("POST", "/units", UNIT)["id"]
    visit = phone("POST", "/visits", {"unit_id": unit, "complaint": "warm"})["id"]
    return visit, phone("GET", f"/units/{unit}")["circuits"][0]["id"]


def test_spot_readings_come_back_with_causes_and_the_next_test(phone: Client) -> None:
    """Little subcooling with much superheat speaks for too little charge (trade handbooks; common practice)."""
    visit, circuit = visit_on(phone)
    body = {"id": str(uuid.uuid4()), "circuit_id": circuit, "values": UNDERCHARGED}
    found = phone("POST", f"/visits/{visit}/spots", body)
    assert "undercharge" in [f["code"] for f in found["findings"][:3]]
    assert found["findings"][0]["evidence_for"]
    assert found["next_tests"]
    assert found["next_tests"][0]["minutes"] > 0
    assert phone("GET", f"/visits/{visit}/spots/{body['id']}")["findings"] == found["findings"]
    page = phone("GET", f"/visits/{visit}")
    assert [f["code"] for f in page["findings"]] == [f["code"] for f in found["findings"]]
    metric = phone("GET", f"/visits/{visit}/spots/{body['id']}", units="si")
    assert any("°C" in line or " K" in line for f in metric["findings"] for line in f["evidence_for"])


def test_impossible_readings_come_back_as_a_slip_and_no_cause(phone: Client) -> None:
    visit, circuit = visit_on(phone)
    values = {**UNDERCHARGED, "suction_pressure": "300 psig", "liquid_pressure": "95 psig"}
    found = phone("POST", f"/visits/{visit}/spots", {"circuit_id": circuit, "values": values})
    assert found["findings"] == []
    assert found["remarks"]


def test_a_visit_goes_to_another_server_as_a_file(phone: Client, tmp_path_factory: pytest.TempPathFactory) -> None:
    visit, circuit = visit_on(phone)
    phone("POST", f"/visits/{visit}/set-aside", {"what": "cover"})
    phone("POST", f"/visits/{visit}/spots", {"circuit_id": circuit, "values": UNDERCHARGED})
    phone("POST", f"/visits/{visit}/hand-over", {"to": "Bram Osterhoudt"}, status=422)  # nobody said who gives
    phone("PUT", "/person", {"name": "Ines Calloway"})
    content = phone("POST", f"/visits/{visit}/hand-over", {"to": "Bram Osterhoudt"})
    with serving(tmp_path_factory.mktemp("other")) as elsewhere:
        tablet = elsewhere.client()
        assert send_file(tablet, content).status_code == 422  # nobody said who takes
        tablet("PUT", "/person", {"name": "Bram Osterhoudt"})
        taken = send_file(tablet, content).json()
        assert taken["visit_id"] == visit
        assert taken["sentences"][0] == "The condenser is covered: is somebody watching it?"
        assert send_file(tablet, content).json()["visit_id"] == visit
        page = tablet("GET", f"/visits/{visit}")
        assert [one["what"] for one in page["set_aside"]] == ["cover"]
        assert len(page["spots"]) == 1
        assert send_file(tablet, content[:-3]).status_code == 422
        assert send_file(tablet, b"a list of groceries").json()["error"]["message"] == "This is no hand-over of a visit"


def test_codes_are_read_from_the_pictures_in_any_order(phone: Client, tmp_path_factory: pytest.TempPathFactory) -> None:
    """The codes are read with ZXing from the pictures that the screen shows."""
    visit, _ = visit_on(phone)
    phone("PUT", "/person", {"name": "Ines Calloway"})
    pictures = phone("POST", f"/visits/{visit}/hand-over/codes", {"to": "Bram Osterhoudt"})["pictures"]
    assert len(pictures) >= 2
    texts = [read_code(picture) for picture in pictures]
    with serving(tmp_path_factory.mktemp("other")) as elsewhere:
        tablet = elsewhere.client()
        tablet("PUT", "/person", {"name": "Bram Osterhoudt"})
        some = [texts[1], texts[1]]
        left = tablet("POST", "/take-over/missing", {"texts": some})
        assert left == {"missing": [n for n in range(1, len(texts) + 1) if n != 2], "of": len(texts)}
        tablet("POST", "/take-over/codes", {"texts": some}, status=422)
        tablet("POST", "/take-over/missing", {"texts": ["groceries"]}, status=422)
        assert tablet("POST", "/take-over/codes", {"texts": texts[::-1]})["visit_id"] == visit
        assert tablet("GET", f"/visits/{visit}")["visit"]["complaint"] == "warm"


def send_file(client: Client, content: bytes) -> httpx.Response:
    return client.http.post("/take-over", content=content, headers={"content-type": "application/octet-stream"})


def read_code(svg: str) -> str:
    """Text of a code: its modules are runs of a path on a grid; they are painted and read."""
    import re

    import zxingcpp
    from PIL import Image

    width = int(re.search(r'width="(\d+)"', svg)[1])  # type: ignore[index]
    scale = int(re.search(r"scale\((\d+)\)", svg)[1])  # type: ignore[index]
    side = width // scale
    picture = Image.new("L", (side, side), 255)
    x = y = 0.0
    for command, numbers in re.findall(r"([Mmh])([^A-Za-z]*)", re.search(r' d="([^"]+)"', svg)[1]):  # type: ignore[index]
        values = [float(v) for v in re.findall(r"-?[\d.]+", numbers)]
        if command == "M":
            x, y = values
        elif command == "m":
            x, y = x + values[0], y + values[1]
        else:
            for i in range(int(values[0])):
                picture.putpixel((int(x) + i, int(y)), 0)
            x += values[0]
    large = picture.resize((side * 6, side * 6), Image.Resampling.NEAREST)
    found = zxingcpp.read_barcodes(Image.open(io.BytesIO(_png(large))))
    assert len(found) == 1
    return str(found[0].text)


def _png(picture: object) -> bytes:
    out = io.BytesIO()
    picture.save(out, "PNG")  # type: ignore[attr-defined]
    return out.getvalue()
