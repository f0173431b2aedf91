"""Base45 against the worked examples of RFC 9285, sections 4.3 and 4.4."""

from __future__ import annotations

import pytest

from steadfeed.errors import FixInput
from steadfeed.records import base45

EXAMPLES = [(b"AB", "BB8"), (b"Hello!!", "%69 VD92EX0"), (b"base-45", "UJCLQE7W581"), (b"ietf!", "QED8WEX0")]


@pytest.mark.parametrize(("content", "text"), EXAMPLES)
def test_worked_examples(content: bytes, text: str) -> None:
    assert base45.encode(content) == text
    assert base45.decode(text) == content


@pytest.mark.parametrize("text", ["GGW", ":::", "A", "ab", "BB8A", "Q\N{LATIN SMALL LETTER E WITH ACUTE}D"])
def test_what_the_rfc_forbids(text: str) -> None:
    """Section 6: "GGW" would be 65,536, one too many for two bytes; lengths of 3n+1 cannot occur."""
    with pytest.raises(FixInput):
        base45.decode(text)
