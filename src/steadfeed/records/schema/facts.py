"""Facts: written once. The database refuses to change one; a mistake is withdrawn by a superseding entry."""

from __future__ import annotations

from typing import Any, Final

import sqlalchemy as sa

from steadfeed.circuit.phase import MARK_EVENTS
from steadfeed.circuit.verdict import STATES, UNDECIDED
from steadfeed.records.schema.columns import col, day, key, metadata, moment, number, ref, text, weight
from steadfeed.records.schema.things import MODES, PURPOSES

TABLES: Final[list[str]] = []

ATTACHMENT_KINDS: Final = ("photo", "voice note", "signature", "document")
OVERRIDES: Final = ("thermostat", "auxiliary heat", "fan control", "cover", "economizer", "other")
PUT_BACK_ANSWERS: Final = ("put back", "left on purpose")


def _fact(name: str, *columns: Any) -> sa.Table:
    """Declare a fact: identity, own columns, then who said so, when, on which device, and the withdrawn mark."""
    TABLES.append(name)
    return sa.Table(
        name,
        metadata,
        key(f"identity of the {name.replace('_', ' ')}"),
        *columns,
        moment("made_at", "written down, by the clock of the device", needed=True),
        ref("person_id", "person", "who said so"),
        text("device", "device on which it was written"),
        col(
            "withdrawn",
            sa.Boolean(),
            "whether a later entry withdrew it",
            needed=True,
            server_default=sa.false(),
        ),
    )


circuit_refrigerant = _fact(
    "circuit_refrigerant",
    ref("circuit_id", "circuit", "which circuit", needed=True, index=True),
    text("refrigerant", "refrigerant by its designation", needed=True),
    moment("from_at", "in the circuit from; empty: since before the records began"),
)
line_set = _fact(
    "line_set",
    ref("circuit_id", "circuit", "which circuit", needed=True, index=True),
    moment("from_at", "in place from; empty: since before the records began"),
    number("length", "length", "m"),
    number("lift", "lift, positive: evaporator higher", "m"),
    number("liquid_line_diameter", "outside diameter of the liquid line", "m"),
    number("suction_line_diameter", "outside diameter of the suction line", "m"),
)
calibration = _fact(
    "calibration",
    ref("instrument_id", "instrument", "which instrument", needed=True, index=True),
    day("valid_from", "valid from"),
    day("valid_until", "valid until"),
    text("certificate", "number of the certificate"),
)
instrument_use = _fact(
    "instrument_use",
    ref("visit_id", "visit", "on which visit", needed=True, index=True),
    ref("instrument_id", "instrument", "which instrument", needed=True),
    text("place", "channel or place that it read"),
)
challenge_log = _fact(
    "challenge_log",
    ref("challenge_id", "challenge", "whose log", needed=True, index=True),
    col("log_sha256", sa.String(64), "hash of the log as received", sa.ForeignKey("raw_file.sha256"), needed=True),
    text("log_name", "name of the log as received"),
    col("system_sha256", sa.String(64), "hash of the system file as received", sa.ForeignKey("raw_file.sha256")),
    text("system_name", "name of the system file as received"),
    text("circuit_label", "which circuit of the log, when it holds several"),
    sa.Index("ix_challenge_log_log_sha256", "log_sha256"),
)
mark = _fact(
    "mark",
    ref("challenge_id", "challenge", "on which challenge", needed=True, index=True),
    moment("at", "when it happened", needed=True),
    number("utc_offset", "local time minus UTC", "s"),
    text("event", "what happened", words=MARK_EVENTS, needed=True),
    text("text", "in words"),
)
step = _fact(
    "step",
    ref("challenge_id", "challenge", "on which challenge", needed=True, index=True),
    moment("at", "from when", needed=True),
    text("phase", "phase", needed=True),
    number("cover", "share of the condenser face that is covered", "1"),
    text("why", "moved by the data, or the person's reason"),
)
spot = _fact(
    "spot",
    ref("visit_id", "visit", "on which visit", needed=True, index=True),
    ref("circuit_id", "circuit", "of which circuit", needed=True, index=True),
    moment("taken_at", "read at", needed=True),
    number("utc_offset", "local time minus UTC", "s"),
    text("mode", "mode", words=MODES),
    text("purpose", "when in the work", words=PURPOSES),
    text("result", "what was derived from it (JSON object)", json=True),
    text("method_version", "version of the method that derived it"),
)
spot_value = _fact(
    "spot_value",
    ref("spot_id", "spot", "of which spot readings", needed=True, index=True),
    text("channel", "quantity and place", needed=True),
    text("value", "value as received; empty: could not be read"),
    text("unit", "unit as received"),
    text("read_by", "who or what read it"),
)
verdict = _fact(
    "verdict",
    ref("challenge_id", "challenge", "on which challenge", needed=True, index=True),
    col("supersedes", sa.String(36), "the verdict that it stands in place of; empty: the first"),
    text("method_version", "version of code, criteria and coefficients", needed=True),
    col("log_sha256", sa.String(64), "hash of the readings that were judged"),
    col("system_sha256", sa.String(64), "hash of the system file that was used"),
    col("valid", sa.Boolean(), "whether the test could have told", needed=True),
    text("verdict", "verdict on the metering device", words=(*STATES, UNDECIDED), needed=True),
    col("early", sa.Boolean(), "called before the hold was long enough", needed=True),
    text("reasons", "reasons against validity (JSON list)", json=True, needed=True),
    number("feed_held", "share of the push that was cancelled", "1"),
    number("feed_held_low", "lower end of its interval", "1"),
    number("feed_held_high", "upper end of its interval", "1"),
    text("judgement", "the judgement as `judge --json` writes it (JSON object)", json=True, needed=True),
    col("judgement_sha256", sa.String(64), "hash of the judgement's text", needed=True),
    text("changed", "what changed against the superseded verdict (JSON list of sentences)", json=True, needed=True),
)
quality_mask = _fact(
    "quality_mask",
    ref("verdict_id", "verdict", "by which judgement", needed=True, index=True),
    text("channel", "channel", needed=True),
    text("flag", "what is wrong with these readings", needed=True),
    col("first_row", sa.Integer(), "first row, counted from 0", needed=True),
    col("last_row", sa.Integer(), "last row", needed=True),
)
finding = _fact(
    "finding",
    ref("visit_id", "visit", "on which visit", needed=True, index=True),
    ref("circuit_id", "circuit", "in which circuit"),
    ref("verdict_id", "verdict", "found by this judgement"),
    ref("spot_id", "spot", "found in these spot readings"),
    text("code", "stable word of the cause", needed=True),
    text("text", "one sentence", needed=True),
    number("likelihood", "likelihood", "1"),
    text("evidence_for", "sentences for it (JSON list)", json=True),
    text("evidence_against", "sentences against it (JSON list)", json=True),
    text("source", "where the rule comes from"),
    text("method_version", "version of the method; empty: a person's own"),
)
next_test = _fact(
    "next_test",
    ref("visit_id", "visit", "on which visit", needed=True, index=True),
    ref("finding_id", "finding", "to settle which finding"),
    text("code", "stable word of the test", needed=True),
    text("text", "how it is done", needed=True),
    number("minutes", "how long it takes", "min"),
    text("expected", "what each cause would show (JSON object)", json=True),
)
test_outcome = _fact(
    "test_outcome",
    ref("next_test_id", "next_test", "of which test", needed=True, index=True),
    text("outcome", "what it showed", needed=True),
    text("text", "in words"),
)
action = _fact(
    "action",
    ref("visit_id", "visit", "on which visit", needed=True, index=True),
    ref("circuit_id", "circuit", "on which circuit"),
    moment("at", "done at", needed=True),
    text("text", "what was done", needed=True),
    number("minutes", "how long it took", "min"),
    ref("installation_id", "installation", "the part that went in or out"),
)
refrigerant_move = _fact(
    "refrigerant_move",
    ref("visit_id", "visit", "on which visit", needed=True, index=True),
    ref("circuit_id", "circuit", "into or out of which circuit", needed=True, index=True),
    moment("at", "done at", needed=True),
    text("refrigerant", "refrigerant by its designation", needed=True),
    text("direction", "seen from the circuit", words=("in", "out"), needed=True),
    weight("weight_hundredth_oz", "how much", needed=True),
    text("as_typed", "weight as the person typed it", needed=True),
    text("cylinder", "cylinder"),
)
override = _fact(
    "override",
    ref("visit_id", "visit", "on which visit", needed=True, index=True),
    text("what", "what was set aside", words=OVERRIDES, needed=True),
    moment("at", "set aside at", needed=True),
    text("text", "in words"),
)
put_back = _fact(
    "put_back",
    ref("override_id", "override", "answers which override", needed=True, index=True),
    moment("at", "answered at", needed=True),
    text("answer", "what became of it", words=PUT_BACK_ANSWERS, needed=True),
    text("text", "why it was left, or how it was verified"),
)
pair = _fact(
    "pair",
    ref("visit_id", "visit", "on which visit the work ended", needed=True, index=True),
    ref("found_challenge_id", "challenge", "challenge as found"),
    ref("left_challenge_id", "challenge", "challenge as left"),
    ref("found_spot_id", "spot", "spot readings as found"),
    ref("left_spot_id", "spot", "spot readings as left"),
)
attachment = _fact(
    "attachment",
    text("owner", "table of what it belongs to", needed=True),
    col("owner_id", sa.String(36), "identity of what it belongs to", needed=True, index=True),
    text("kind", "what it is", words=ATTACHMENT_KINDS, needed=True),
    text("media", "media type", needed=True),
    col("size", sa.Integer(), "size of what is kept", unit="bytes", needed=True),
    col("sha256", sa.String(64), "hash of what is kept", needed=True),
    col(
        "received_sha256",
        sa.String(64),
        "hash of what was received, before its location data were taken out",
        needed=True,
    ),
    col("width", sa.Integer(), "width", unit="pixels"),
    col("height", sa.Integer(), "height", unit="pixels"),
    moment("taken_at", "taken at, as the camera says"),
    text("text", "caption"),
)
attachment_content = sa.Table(
    "attachment_content",
    metadata,
    sa.Column(
        "attachment_id",
        sa.String(36),
        sa.ForeignKey("attachment.id"),
        primary_key=True,
        comment="of which attachment",
        info={},
    ),
    col("content", sa.LargeBinary(), "the bytes; can be erased while the attachment's hash stays", needed=True),
)
signature = _fact(
    "signature",
    ref("visit_id", "visit", "on which visit", needed=True, index=True),
    text("role", "as whom", words=("customer", "technician", "reviewer"), needed=True),
    ref("attachment_id", "attachment", "the drawn signature"),
    col("signed_sha256", sa.String(64), "hash of the document that was shown", needed=True),
    moment("at", "signed at", needed=True),
)
delivery = _fact(
    "delivery",
    ref("visit_id", "visit", "papers of which visit", needed=True, index=True),
    text("document", "which paper", needed=True),
    col("sha256", sa.String(64), "hash of the paper", needed=True),
    text("way", "how it was given", words=("printed", "sent", "shown", "file"), needed=True),
    moment("at", "given at", needed=True),
)
hand_over = _fact(
    "hand_over",
    ref("visit_id", "visit", "which visit", needed=True, index=True),
    text("direction", "seen from this store", words=("given", "taken"), needed=True),
    moment("at", "handed over at", needed=True),
    ref("from_person_id", "person", "who gave it"),
    ref("to_person_id", "person", "who took it"),
    text("from_device", "device that gave it"),
    text("to_device", "device that took it"),
    col("sha256", sa.String(64), "hash of what was handed over", needed=True),
    col("readings", sa.Integer(), "readings in it", needed=True),
)

entry = sa.Table(
    "entry",
    metadata,
    key("identity of the entry"),
    text("thing", "table of what was edited", needed=True),
    col("thing_id", sa.String(36), "identity of what was edited", needed=True),
    text("kind", "what the entry does", words=("create", "set", "undo", "move"), needed=True),
    text("field", "field that was edited; empty: the row was made"),
    text("value", "new value (JSON); that of a personal field stands in entry_value", json=True),
    text("supersedes", "identities of the entries that it stands in place of (JSON list)", json=True, needed=True),
    moment("made_at", "edited at, by the clock of the device", needed=True),
    moment("received_at", "reached this store", needed=True),
    ref("person_id", "person", "who edited"),
    text("device", "device on which it was edited"),
    text("reason", "why"),
    sa.Index("ix_entry_thing_id_field", "thing_id", "field"),
)
entry_value = sa.Table(
    "entry_value",
    metadata,
    sa.Column(
        "entry_id", sa.String(36), sa.ForeignKey("entry.id"), primary_key=True, comment="of which entry", info={}
    ),
    text("value", "new value of a personal field (JSON); erased on request", json=True, personal=True),
)

latest_verdict = sa.Table(
    "latest_verdict",
    metadata,
    sa.Column(
        "challenge_id",
        sa.String(36),
        sa.ForeignKey("challenge.id"),
        primary_key=True,
        comment="of which challenge",
        info={},
    ),
    ref("verdict_id", "verdict", "the verdict that stands", needed=True),
    ref("visit_id", "visit", "visit of the challenge", needed=True, index=True),
    text("verdict", "its word", needed=True),
    moment("opened_at", "when the visit was opened", needed=True),
    sa.Index("ix_latest_verdict_verdict_opened_at", "verdict", "opened_at"),
)
