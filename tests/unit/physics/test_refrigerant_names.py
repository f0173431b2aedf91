"""Which refrigerants there are, by which names, and what is said of the others."""

from __future__ import annotations

import hashlib
import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import steadfeed.physics
from steadfeed.errors import FixInput
from steadfeed.physics.properties import coefficient_file_version, curves, refrigerant_names, refused

ROOT = Path(__file__).parents[3]
FILE = Path(steadfeed.physics.__file__).parent / "data" / "coefficients.json"
WANTED = [
    "R-22",
    "R-32",
    "R-134a",
    "R-290",
    "R-404A",
    "R-407A",
    "R-407C",
    "R-407F",
    "R-410A",
    "R-421A",
    "R-422D",
    "R-427A",
    "R-448A",
    "R-449A",
    "R-450A",
    "R-452A",
    "R-452B",
    "R-454A",
    "R-454B",
    "R-454C",
    "R-457A",
    "R-507A",
    "R-513A",
    "R-515B",
    "R-600a",
    "R-744",
    "R-1234yf",
    "R-1234ze(E)",
    "R-12",
    "R-502",
]
NOT_TRUSTED = [
    "R-463A",
    "R-438A",
    "R-437A",
    "R-424A",
    "R-453A",
    "R-458A",
    "R-401A",
    "R-402A",
    "R-408A",
    "R-409A",
    "R-414B",
    "R-416A",
]


def test_the_wanted_refrigerants_are_there() -> None:
    assert [name for name in WANTED if name not in refrigerant_names()] == []


def test_names_come_in_the_order_of_their_numbers() -> None:
    numbers = [int(re.findall(r"\d+", name)[0]) for name in refrigerant_names()]
    assert numbers == sorted(numbers)


@pytest.mark.parametrize("word", ["R-410A", "R410A", "r410a", "410A", " r 410a ", "Refrigerant 410A", "R‑410A"])
def test_a_designation_may_be_written_in_many_ways(word: str) -> None:
    assert curves(word).refrigerant.name == "R-410A"
    assert curves(word) is curves("R-410A")


@pytest.mark.parametrize(
    ("word", "name"), [("r1234ze(e)", "R-1234ze(E)"), ("R1234zeE", "R-1234ze(E)"), ("r600A", "R-600a")]
)
def test_letters_and_brackets_do_not_matter(word: str, name: str) -> None:
    assert curves(word).name == name


@pytest.mark.parametrize(("word", "near"), [("R-410B", "R-410A"), ("R-454", "R-454B"), ("R-143a", "R-134a")])
def test_an_unknown_name_is_told_the_nearest(word: str, near: str) -> None:
    with pytest.raises(FixInput, match="no refrigerant known here") as caught:
        curves(word)
    assert near in caught.value.message
    assert caught.value.code == "unknown refrigerant"


@pytest.mark.parametrize("word", ["", "water", "x" * 4000])
def test_a_name_like_none_is_refused_in_one_short_sentence(word: str) -> None:
    with pytest.raises(FixInput) as caught:
        curves(word)
    assert len(caught.value.message) < 160


@pytest.mark.parametrize("name", NOT_TRUSTED)
def test_blends_that_cannot_be_trusted_are_refused_with_the_reason(name: str) -> None:
    assert refused()[name]
    with pytest.raises(FixInput) as caught:
        curves(name.replace("-", "").lower())
    assert caught.value.code == "refrigerant refused"
    assert refused()[name] in caught.value.message


def test_a_refused_refrigerant_is_not_offered() -> None:
    assert not set(refused()) & set(refrigerant_names())


def specifications() -> dict[str, dict[str, object]]:
    found = {}
    for path in (ROOT / "tools" / "refrigerants").glob("*.toml"):
        spec = tomllib.loads(path.read_text(encoding="utf-8"))
        found[str(spec["name"])] = spec
    return found


def test_the_file_holds_what_the_specifications_say() -> None:
    """A changed TOML file without a new coefficient file is found here."""
    specs = specifications()
    assert {n for n, s in specs.items() if "refused" not in s} == set(refrigerant_names())
    assert {n: s["refused"] for n, s in specs.items() if "refused" in s} == refused()
    for name in refrigerant_names():
        spec, c = specs[name], curves(name)
        assert c.refrigerant.kind == spec["kind"]
        assert c.refrigerant.safety_class == spec["safety_class"]
        assert c.refrigerant.gwp == spec["gwp"]
        assert c.refrigerant.composition == spec.get("composition", "")
        assert c.confidence == spec["confidence"]
        assert c.uncertainty * 9.0 / 5.0 == pytest.approx(spec["uncertainty_degF"], abs=1e-3)


def test_each_refrigerant_says_where_it_comes_from() -> None:
    for name in refrigerant_names():
        c = curves(name)
        assert c.provenance.startswith("CoolProp 8.0.0")
        assert c.confidence in ("high", "good", "fair")
        assert c.uncertainty > 0.05


def test_blends_state_their_composition_and_shares_add_up() -> None:
    for name in refrigerant_names():
        refrigerant = curves(name).refrigerant
        if refrigerant.kind == "pure":
            assert refrigerant.composition == ""
            continue
        parts, shares = refrigerant.composition.rsplit(" ", 1)
        assert len(parts.split("/")) == len(shares.split("/"))
        assert sum(float(share) for share in shares.split("/")) == pytest.approx(100.0)


def test_the_version_is_that_of_the_files_content() -> None:
    assert coefficient_file_version() == hashlib.sha256(FILE.read_bytes()).hexdigest()[:8]


def test_the_file_is_plain_json_without_nan_or_infinity() -> None:
    def refuse(word: str) -> float:
        raise AssertionError(f"{word} in the file: no browser can read it")

    content = json.loads(FILE.read_text(encoding="utf-8"), parse_constant=refuse)
    assert content["format"] == 1


def test_properties_need_nothing_but_numpy() -> None:
    """No equation-of-state library, no scipy, pandas or matplotlib, and PsychroLib only when it is called."""
    program = (
        "import sys\n"
        "from steadfeed.physics import compressor, moist_air, pipe\n"
        "from steadfeed.physics.properties import curves\n"
        "curves('R-410A').bubble_temperature(2e6)\n"
        "heavy = {'CoolProp', 'scipy', 'pandas', 'matplotlib', 'psychrolib', 'fluids', 'teqp', 'numba'}\n"
        "print(sorted(heavy & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_page_of_properties_names_every_refrigerant() -> None:
    page = (ROOT / "docs" / "properties.md").read_text(encoding="utf-8")
    for name in refrigerant_names():
        assert f"| {name} |" in page
    for name in refused():
        assert name in page.split("## Refused")[1]
