"""Things: rows with a present state. Every edit of one is an entry; see records.entries."""

from __future__ import annotations

from typing import Any, Final

import sqlalchemy as sa

from steadfeed.records.schema.columns import (
    PLAIN_TEXT,
    col,
    day,
    key,
    metadata,
    moment,
    number,
    ref,
    text,
    weight,
)

TABLES: Final[list[str]] = []

UNIT_KINDS: Final = ("outdoor", "indoor", "packaged")
METERING_DEVICES: Final = ("txv", "eev", "fixed orifice", "unknown")
COMPRESSOR_TYPES: Final = ("scroll", "reciprocating", "rotary", "unknown")
COMPRESSOR_CONTROLS: Final = ("single-speed", "two-stage", "variable-speed", "tandem", "unknown")
FAN_CONTROLS: Final = ("on-off", "pressure-cycled", "variable", "unknown")
MODES: Final = ("cooling", "heating")
PURPOSES: Final = ("as found", "as left", "check")
VISIT_REASONS: Final = ("maintenance", "service", "callback", "commissioning", "return visit")
PART_ROLES: Final = (
    "metering device", "condenser", "evaporator", "compressor", "outdoor fan", "indoor fan", "reversing valve",
    "filter drier", "accumulator", "control board", "other",
)  # fmt: skip
INSTRUMENT_KINDS: Final = ("gauge", "clamp", "air probe", "current clamp", "scale", "vacuum gauge", "leak detector")


def _thing(name: str, *columns: Any) -> sa.Table:
    """Declare a thing: its identity, when it was made, then its own columns."""
    TABLES.append(name)
    return sa.Table(
        name, metadata, key(f"identity of the {name}"), moment("created_at", "made at", needed=True), *columns
    )


person = _thing(
    "person",
    text("name", "name", personal=True),
    text("certification_type", "kind of certification", personal=True),
    text("certification_number", "number of the certification", personal=True),
    text("licence", "licence", personal=True),
    text("phone", "telephone", personal=True),
    text("email", "e-mail", personal=True),
    text("role", "role in the company", words=("technician", "lead", "apprentice", "office")),
)
customer = _thing(
    "customer",
    text("name", "name", personal=True),
    text("phone", "telephone", personal=True),
    text("email", "e-mail", personal=True),
    text("language", "language of the papers (BCP 47)"),
    text("note", "note"),
)
site = _thing(
    "site",
    ref("customer_id", "customer", "whose site", index=True),
    text("name", "name of the place"),
    text("address", "address", personal=True),
    number("altitude", "altitude", "m"),
    number("barometer", "station pressure read on site", "Pa absolute"),
    text("time_zone", "IANA time zone"),
    text("note", "note"),
)
unit = _thing(
    "unit",
    ref("site_id", "site", "where it stands", needed=True, index=True),
    text("kind", "kind", words=UNIT_KINDS, needed=True),
    col("tag", PLAIN_TEXT, "short tag on its label", index=True),
    text("place", "where on the site"),
    text("maker", "maker"),
    text("model", "model"),
    text("serial", "serial number"),
    day("installed_on", "installed on"),
    col("service_interval_days", sa.Integer(), "days between planned visits", unit="d"),
    moment("retired_at", "taken out of use"),
    text("note", "note"),
)
circuit = _thing(
    "circuit",
    ref("unit_id", "unit", "outdoor or packaged unit", needed=True, index=True),
    ref("indoor_unit_id", "unit", "indoor unit of a split system"),
    text("name", "name when there are several, as in the log"),
    text("metering_device", "metering device that it should have", words=METERING_DEVICES),
    number("nominal_capacity", "nominal capacity", "W"),
    text("compressor_type", "compressor", words=COMPRESSOR_TYPES),
    text("compressor_control", "control of the compressor", words=COMPRESSOR_CONTROLS),
    text("fan_control", "control of the condenser fan", words=FAN_CONTROLS),
)
part = _thing(
    "part",
    text("kind", "what it is", words=PART_ROLES, needed=True),
    text("maker", "maker"),
    text("model", "model"),
    text("serial", "serial number"),
    text("note", "note"),
)
installation = _thing(
    "installation",
    ref("part_id", "part", "which part", needed=True, index=True),
    ref("unit_id", "unit", "in which unit", needed=True, index=True),
    ref("circuit_id", "circuit", "in which circuit, when it belongs to one"),
    text("role", "what it does there", words=PART_ROLES, needed=True),
    moment("from_at", "in place from; empty: since before the records began"),
    moment("until_at", "taken out; empty: still in place"),
    text("reason", "why it was put in"),
    text("end_reason", "why it was taken out"),
)
nameplate = _thing(
    "nameplate",
    ref("unit_id", "unit", "whose nameplate", needed=True, index=True),
    ref("circuit_id", "circuit", "for which circuit, when the plate tells them apart"),
    number("subcooling", "subcooling target", "K difference"),
    number("superheat", "superheat target", "K difference"),
    number("high_side_design_pressure", "design pressure of the high side", "Pa absolute"),
    col("high_side_is_working_limit", sa.Boolean(), "whether the maker gives it as a working limit"),
    number("rated_current", "rated current", "A"),
    weight("charge_hundredth_oz", "factory charge"),
    text("as_typed", "the plate as the person typed it (JSON object)", json=True),
)
instrument = _thing(
    "instrument",
    ref("person_id", "person", "whose instrument"),
    text("kind", "what it is", words=INSTRUMENT_KINDS, needed=True),
    text("accuracy_class", "class as the maker states it"),
    text("serial", "serial number"),
    text("maker", "maker"),
    text("model", "model"),
    text("display", "how it shows", words=("digital", "analog", "unknown")),
    text("pressure_reference", "what it measures against", words=("vented", "sealed", "absolute", "unknown")),
    number("pressure_accuracy", "accuracy", "Pa difference"),
    number("temperature_accuracy", "accuracy", "K difference"),
)
visit = _thing(
    "visit",
    ref("unit_id", "unit", "which unit", needed=True),
    ref("person_id", "person", "technician"),
    text("device", "device on which it was opened"),
    moment("opened_at", "opened", needed=True),
    moment("closed_at", "closed; empty: still open"),
    number("utc_offset", "local time minus UTC", "s"),
    text("reason", "why", words=VISIT_REASONS),
    text("complaint", "complaint in the customer's words"),
    text("not_refrigerant", "why the refrigerant circuit is not suspected; empty: it was not left out"),
    text("draft", "the technician's own conclusion, before review"),
    text("review", "what the reviewer says"),
    ref("reviewed_by", "person", "reviewer"),
    moment("reviewed_at", "reviewed"),
    sa.Index("ix_visit_unit_id_opened_at", "unit_id", "opened_at"),
    sa.Index("ix_visit_opened_at", "opened_at"),
)
challenge = _thing(
    "challenge",
    ref("visit_id", "visit", "on which visit it was taken", needed=True, index=True),
    ref("circuit_id", "circuit", "to which circuit the readings belong", needed=True, index=True),
    moment("started_at", "first reading", needed=True),
    text("mode", "mode", words=MODES),
    text("purpose", "when in the work", words=PURPOSES),
    text("note", "note"),
)
due_visit = _thing(
    "due_visit",
    ref("unit_id", "unit", "which unit", needed=True, index=True),
    day("due_on", "due on", needed=True),
    text("reason", "why"),
    text("condition", "what must hold on that day, as in “above 45 °F outdoors”"),
    ref("visit_id", "visit", "the visit that asked for it"),
    ref("done_visit_id", "visit", "the visit that answered it"),
)
