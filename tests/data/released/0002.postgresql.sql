\restrict r2NKWyalPKF0Ed8H9eaajnuu2Sisn48ALhMD4r1MgpwO6sN8bejvaLoVNRkAfHH
SET statement_timeout = 0;
SET lock_timeout = 0;
SET idle_in_transaction_session_timeout = 0;
SET client_encoding = 'UTF8';
SET standard_conforming_strings = on;
SELECT pg_catalog.set_config('search_path', '', false);
SET check_function_bodies = false;
SET xmloption = content;
SET client_min_messages = warning;
SET row_security = off;
CREATE FUNCTION public.steadfeed_append_only() RETURNS trigger
    LANGUAGE plpgsql
    AS $$ BEGIN RAISE EXCEPTION '% is append-only', TG_TABLE_NAME; END $$;
SET default_tablespace = '';
SET default_table_access_method = heap;
CREATE TABLE public.action (
    id character varying(36) NOT NULL,
    visit_id character varying(36) NOT NULL,
    circuit_id character varying(36),
    at double precision NOT NULL,
    text text NOT NULL,
    minutes double precision,
    installation_id character varying(36),
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.alembic_version (
    version_num character varying(32) NOT NULL
);
CREATE TABLE public.attachment (
    id character varying(36) NOT NULL,
    owner text NOT NULL,
    owner_id character varying(36) NOT NULL,
    kind text NOT NULL,
    media text NOT NULL,
    size integer NOT NULL,
    sha256 character varying(64) NOT NULL,
    received_sha256 character varying(64) NOT NULL,
    width integer,
    height integer,
    taken_at double precision,
    text text,
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.attachment_content (
    attachment_id character varying(36) NOT NULL,
    content bytea NOT NULL
);
CREATE TABLE public.calibration (
    id character varying(36) NOT NULL,
    instrument_id character varying(36) NOT NULL,
    valid_from character varying(10),
    valid_until character varying(10),
    certificate text,
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.challenge (
    id character varying(36) NOT NULL,
    created_at double precision NOT NULL,
    visit_id character varying(36) NOT NULL,
    circuit_id character varying(36) NOT NULL,
    started_at double precision NOT NULL,
    mode text,
    purpose text,
    note text
);
CREATE TABLE public.challenge_log (
    id character varying(36) NOT NULL,
    challenge_id character varying(36) NOT NULL,
    log_sha256 character varying(64) NOT NULL,
    log_name text,
    system_sha256 character varying(64),
    system_name text,
    circuit_label text,
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.circuit (
    id character varying(36) NOT NULL,
    created_at double precision NOT NULL,
    unit_id character varying(36) NOT NULL,
    indoor_unit_id character varying(36),
    name text,
    metering_device text,
    nominal_capacity double precision,
    compressor_type text,
    compressor_control text,
    fan_control text
);
CREATE TABLE public.circuit_refrigerant (
    id character varying(36) NOT NULL,
    circuit_id character varying(36) NOT NULL,
    refrigerant text NOT NULL,
    from_at double precision,
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.customer (
    id character varying(36) NOT NULL,
    created_at double precision NOT NULL,
    name text,
    phone text,
    email text,
    language text,
    note text
);
CREATE TABLE public.delivery (
    id character varying(36) NOT NULL,
    visit_id character varying(36) NOT NULL,
    document text NOT NULL,
    sha256 character varying(64) NOT NULL,
    way text NOT NULL,
    at double precision NOT NULL,
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.due_visit (
    id character varying(36) NOT NULL,
    created_at double precision NOT NULL,
    unit_id character varying(36) NOT NULL,
    due_on character varying(10) NOT NULL,
    reason text,
    condition text,
    visit_id character varying(36),
    done_visit_id character varying(36)
);
CREATE TABLE public.entry (
    id character varying(36) NOT NULL,
    thing text NOT NULL,
    thing_id character varying(36) NOT NULL,
    kind text NOT NULL,
    field text,
    value text,
    supersedes text NOT NULL,
    made_at double precision NOT NULL,
    received_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    reason text
);
CREATE TABLE public.entry_value (
    entry_id character varying(36) NOT NULL,
    value text
);
CREATE TABLE public.feed (
    key bigint NOT NULL,
    stream_key bigint NOT NULL,
    challenge_id character varying(36) NOT NULL,
    channel text NOT NULL,
    header text NOT NULL,
    unit text NOT NULL,
    read_by text NOT NULL
);
CREATE SEQUENCE public.feed_key_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.feed_key_seq OWNED BY public.feed.key;
CREATE TABLE public.finding (
    id character varying(36) NOT NULL,
    visit_id character varying(36) NOT NULL,
    circuit_id character varying(36),
    verdict_id character varying(36),
    spot_id character varying(36),
    code text NOT NULL,
    text text NOT NULL,
    likelihood double precision,
    evidence_for text,
    evidence_against text,
    source text,
    method_version text,
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.hand_over (
    id character varying(36) NOT NULL,
    visit_id character varying(36) NOT NULL,
    direction text NOT NULL,
    at double precision NOT NULL,
    from_person_id character varying(36),
    to_person_id character varying(36),
    from_device text,
    to_device text,
    sha256 character varying(64) NOT NULL,
    readings integer NOT NULL,
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.installation (
    id character varying(36) NOT NULL,
    created_at double precision NOT NULL,
    part_id character varying(36) NOT NULL,
    unit_id character varying(36) NOT NULL,
    circuit_id character varying(36),
    role text NOT NULL,
    from_at double precision,
    until_at double precision,
    reason text,
    end_reason text
);
CREATE TABLE public.instrument (
    id character varying(36) NOT NULL,
    created_at double precision NOT NULL,
    person_id character varying(36),
    kind text NOT NULL,
    accuracy_class text,
    serial text,
    maker text,
    model text,
    display text,
    pressure_reference text,
    pressure_accuracy double precision,
    temperature_accuracy double precision
);
CREATE TABLE public.instrument_use (
    id character varying(36) NOT NULL,
    visit_id character varying(36) NOT NULL,
    instrument_id character varying(36) NOT NULL,
    place text,
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.latest_verdict (
    challenge_id character varying(36) NOT NULL,
    verdict_id character varying(36) NOT NULL,
    visit_id character varying(36) NOT NULL,
    verdict text NOT NULL,
    opened_at double precision NOT NULL
);
CREATE TABLE public.line_set (
    id character varying(36) NOT NULL,
    circuit_id character varying(36) NOT NULL,
    from_at double precision,
    length double precision,
    lift double precision,
    liquid_line_diameter double precision,
    suction_line_diameter double precision,
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.mark (
    id character varying(36) NOT NULL,
    challenge_id character varying(36) NOT NULL,
    at double precision NOT NULL,
    utc_offset double precision,
    event text NOT NULL,
    text text,
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.nameplate (
    id character varying(36) NOT NULL,
    created_at double precision NOT NULL,
    unit_id character varying(36) NOT NULL,
    circuit_id character varying(36),
    subcooling double precision,
    superheat double precision,
    high_side_design_pressure double precision,
    high_side_is_working_limit boolean,
    rated_current double precision,
    charge_hundredth_oz bigint,
    as_typed text
);
CREATE TABLE public.next_test (
    id character varying(36) NOT NULL,
    visit_id character varying(36) NOT NULL,
    finding_id character varying(36),
    code text NOT NULL,
    text text NOT NULL,
    minutes double precision,
    expected text,
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.override (
    id character varying(36) NOT NULL,
    visit_id character varying(36) NOT NULL,
    what text NOT NULL,
    at double precision NOT NULL,
    text text,
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.pair (
    id character varying(36) NOT NULL,
    visit_id character varying(36) NOT NULL,
    found_challenge_id character varying(36),
    left_challenge_id character varying(36),
    found_spot_id character varying(36),
    left_spot_id character varying(36),
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.part (
    id character varying(36) NOT NULL,
    created_at double precision NOT NULL,
    kind text NOT NULL,
    maker text,
    model text,
    serial text,
    note text
);
CREATE TABLE public.person (
    id character varying(36) NOT NULL,
    created_at double precision NOT NULL,
    name text,
    certification_type text,
    certification_number text,
    licence text,
    phone text,
    email text,
    role text
);
CREATE TABLE public.put_back (
    id character varying(36) NOT NULL,
    override_id character varying(36) NOT NULL,
    at double precision NOT NULL,
    answer text NOT NULL,
    text text,
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.quality_mask (
    id character varying(36) NOT NULL,
    verdict_id character varying(36) NOT NULL,
    channel text NOT NULL,
    flag text NOT NULL,
    first_row integer NOT NULL,
    last_row integer NOT NULL,
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.raw_file (
    sha256 character varying(64) NOT NULL,
    size bigint NOT NULL,
    packed bytea NOT NULL,
    received_at double precision NOT NULL
);
CREATE TABLE public.reading (
    stream_key bigint NOT NULL,
    sequence bigint NOT NULL,
    feed_key bigint NOT NULL,
    value text,
    device_time double precision,
    utc_offset double precision,
    received_at double precision NOT NULL,
    quality text,
    batch_key bigint NOT NULL
);
CREATE TABLE public.reading_batch (
    key bigint NOT NULL,
    committed_at double precision NOT NULL,
    readings integer NOT NULL,
    sha256 character varying(64) NOT NULL
);
CREATE SEQUENCE public.reading_batch_key_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.reading_batch_key_seq OWNED BY public.reading_batch.key;
CREATE TABLE public.reading_conflict (
    key bigint NOT NULL,
    source text NOT NULL,
    boot_id text NOT NULL,
    sequence bigint NOT NULL,
    reading text NOT NULL,
    received_at double precision NOT NULL
);
CREATE SEQUENCE public.reading_conflict_key_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.reading_conflict_key_seq OWNED BY public.reading_conflict.key;
CREATE TABLE public.refrigerant_move (
    id character varying(36) NOT NULL,
    visit_id character varying(36) NOT NULL,
    circuit_id character varying(36) NOT NULL,
    at double precision NOT NULL,
    refrigerant text NOT NULL,
    direction text NOT NULL,
    weight_hundredth_oz bigint NOT NULL,
    as_typed text NOT NULL,
    cylinder text,
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.search_word (
    word text NOT NULL COLLATE pg_catalog."C",
    unit_id character varying(36) NOT NULL
);
CREATE TABLE public.sent_mark (
    peer character varying(120) NOT NULL,
    stream_key bigint NOT NULL,
    sequence bigint NOT NULL
);
CREATE TABLE public.signature (
    id character varying(36) NOT NULL,
    visit_id character varying(36) NOT NULL,
    role text NOT NULL,
    attachment_id character varying(36),
    signed_sha256 character varying(64) NOT NULL,
    at double precision NOT NULL,
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.site (
    id character varying(36) NOT NULL,
    created_at double precision NOT NULL,
    customer_id character varying(36),
    name text,
    address text,
    altitude double precision,
    barometer double precision,
    time_zone text,
    note text
);
CREATE TABLE public.spot (
    id character varying(36) NOT NULL,
    visit_id character varying(36) NOT NULL,
    circuit_id character varying(36) NOT NULL,
    taken_at double precision NOT NULL,
    utc_offset double precision,
    mode text,
    purpose text,
    result text,
    method_version text,
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.spot_value (
    id character varying(36) NOT NULL,
    spot_id character varying(36) NOT NULL,
    channel text NOT NULL,
    value text,
    unit text,
    read_by text,
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.step (
    id character varying(36) NOT NULL,
    challenge_id character varying(36) NOT NULL,
    at double precision NOT NULL,
    phase text NOT NULL,
    cover double precision,
    why text,
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.stream (
    key bigint NOT NULL,
    source text NOT NULL,
    boot_id text NOT NULL
);
CREATE SEQUENCE public.stream_key_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.stream_key_seq OWNED BY public.stream.key;
CREATE TABLE public.test_outcome (
    id character varying(36) NOT NULL,
    next_test_id character varying(36) NOT NULL,
    outcome text NOT NULL,
    text text,
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.unit (
    id character varying(36) NOT NULL,
    created_at double precision NOT NULL,
    site_id character varying(36) NOT NULL,
    kind text NOT NULL,
    tag text COLLATE pg_catalog."C",
    place text,
    maker text,
    model text,
    serial text,
    installed_on character varying(10),
    service_interval_days integer,
    retired_at double precision,
    note text
);
CREATE TABLE public.verdict (
    id character varying(36) NOT NULL,
    challenge_id character varying(36) NOT NULL,
    supersedes character varying(36),
    method_version text NOT NULL,
    log_sha256 character varying(64),
    system_sha256 character varying(64),
    valid boolean NOT NULL,
    verdict text NOT NULL,
    early boolean NOT NULL,
    reasons text NOT NULL,
    feed_held double precision,
    feed_held_low double precision,
    feed_held_high double precision,
    judgement text NOT NULL,
    judgement_sha256 character varying(64) NOT NULL,
    changed text NOT NULL,
    made_at double precision NOT NULL,
    person_id character varying(36),
    device text,
    withdrawn boolean DEFAULT false NOT NULL
);
CREATE TABLE public.visit (
    id character varying(36) NOT NULL,
    created_at double precision NOT NULL,
    unit_id character varying(36) NOT NULL,
    person_id character varying(36),
    device text,
    opened_at double precision NOT NULL,
    closed_at double precision,
    utc_offset double precision,
    reason text,
    complaint text,
    not_refrigerant text,
    draft text,
    review text,
    reviewed_by character varying(36),
    reviewed_at double precision
);
ALTER TABLE ONLY public.feed ALTER COLUMN key SET DEFAULT nextval('public.feed_key_seq'::regclass);
ALTER TABLE ONLY public.reading_batch ALTER COLUMN key SET DEFAULT nextval('public.reading_batch_key_seq'::regclass);
ALTER TABLE ONLY public.reading_conflict ALTER COLUMN key SET DEFAULT nextval('public.reading_conflict_key_seq'::regclass);
ALTER TABLE ONLY public.stream ALTER COLUMN key SET DEFAULT nextval('public.stream_key_seq'::regclass);
INSERT INTO public.action VALUES ('7b99a5cc-54a4-4d20-8dbd-c055ce8d3401', '3bb3ff2b-69b4-4881-a2d1-b470f06fef12', NULL, 1785000000, 'cleaned the coil', NULL, NULL, 1785000000, NULL, 'test bench', true);
INSERT INTO public.alembic_version VALUES ('0002');
INSERT INTO public.challenge VALUES ('757cd1a5-4976-43ff-b191-11489ce549d8', 1785000000, '3bb3ff2b-69b4-4881-a2d1-b470f06fef12', 'ee233ec5-0e59-4f90-a2e1-ce55af0d439b', 1785000060, 'cooling', NULL, NULL);
INSERT INTO public.challenge_log VALUES ('66471c40-0ba4-4228-9f12-335eba74535b', '757cd1a5-4976-43ff-b191-11489ce549d8', '8ca6abd0afd7ed2a26ea4f7a83810322b1faf4add7d1b3931ba803017c9cf2b5', 'a.csv', NULL, NULL, NULL, 1785000000, NULL, 'test bench', false);
INSERT INTO public.circuit VALUES ('ee233ec5-0e59-4f90-a2e1-ce55af0d439b', 1785000000, '1243012d-d11c-4017-8602-4ab2324ac08b', NULL, '1', 'txv', NULL, NULL, NULL, NULL);
INSERT INTO public.circuit_refrigerant VALUES ('e65805dc-b3ef-4b46-aba9-5c1c69c015d8', 'ee233ec5-0e59-4f90-a2e1-ce55af0d439b', 'R-410A', NULL, 1785000000, NULL, 'test bench', false);
INSERT INTO public.customer VALUES ('29b73774-6691-4593-a398-577c5ec7bcca', 1785000000, 'Ardenfield Mills', '555 0199', NULL, NULL, NULL);
INSERT INTO public.due_visit VALUES ('5a8cc71d-3869-40c5-b2b3-215250daa2b2', 1785000000, '1243012d-d11c-4017-8602-4ab2324ac08b', '2027-05-31', 'spring', NULL, NULL, NULL);
INSERT INTO public.entry VALUES ('dbd85738-e328-4ae4-ada4-e85e4bc62639', 'customer', '29b73774-6691-4593-a398-577c5ec7bcca', 'create', NULL, '{}', '[]', 1785000000, 1785000000, NULL, 'test bench', NULL);
INSERT INTO public.entry VALUES ('2274a966-d6aa-4ca2-b981-03f61d774116', 'site', '9e5524f5-dc27-40e7-9737-11b50027d954', 'create', NULL, '{"customer_id": "29b73774-6691-4593-a398-577c5ec7bcca", "name": "Mill house", "altitude": 120.0}', '[]', 1785000000, 1785000000, NULL, 'test bench', NULL);
INSERT INTO public.entry VALUES ('f0765fa3-96c3-4fef-b52f-1b9359ca3593', 'unit', '1243012d-d11c-4017-8602-4ab2324ac08b', 'create', NULL, '{"site_id": "9e5524f5-dc27-40e7-9737-11b50027d954", "kind": "outdoor", "tag": "W-05", "place": "Roof west", "serial": "QX-2241-8830"}', '[]', 1785000000, 1785000000, NULL, 'test bench', NULL);
INSERT INTO public.entry VALUES ('4aaa0bd1-bd8c-4e87-8e9f-ebf15b9731c6', 'circuit', 'ee233ec5-0e59-4f90-a2e1-ce55af0d439b', 'create', NULL, '{"unit_id": "1243012d-d11c-4017-8602-4ab2324ac08b", "name": "1", "metering_device": "txv"}', '[]', 1785000000, 1785000000, NULL, 'test bench', NULL);
INSERT INTO public.entry VALUES ('bb9966ed-4c60-4907-b634-0a1188ce0673', 'person', '9f6624b2-a871-4329-87a1-333f16dfef99', 'create', NULL, '{"role": "technician"}', '[]', 1785000000, 1785000000, NULL, 'test bench', NULL);
INSERT INTO public.entry VALUES ('febc5dc4-3aeb-4036-bc97-75cb6eaff0d1', 'visit', '3bb3ff2b-69b4-4881-a2d1-b470f06fef12', 'create', NULL, '{"unit_id": "1243012d-d11c-4017-8602-4ab2324ac08b", "person_id": "9f6624b2-a871-4329-87a1-333f16dfef99", "opened_at": 1785000000.0, "complaint": "warm air"}', '[]', 1785000000, 1785000000, NULL, 'test bench', NULL);
INSERT INTO public.entry VALUES ('784366b3-149b-4e4f-8b23-7121369e636d', 'challenge', '757cd1a5-4976-43ff-b191-11489ce549d8', 'create', NULL, '{"visit_id": "3bb3ff2b-69b4-4881-a2d1-b470f06fef12", "circuit_id": "ee233ec5-0e59-4f90-a2e1-ce55af0d439b", "started_at": 1785000060.0, "mode": "cooling"}', '[]', 1785000000, 1785000000, NULL, 'test bench', NULL);
INSERT INTO public.entry VALUES ('6eaa6d42-65f9-48da-a2a0-04580573ed50', 'action', '7b99a5cc-54a4-4d20-8dbd-c055ce8d3401', 'set', 'withdrawn', 'true', '[]', 1785000000, 1785000000, NULL, 'test bench', 'wrong unit');
INSERT INTO public.entry VALUES ('461282ce-e825-44fc-b00c-833287507b67', 'unit', '1243012d-d11c-4017-8602-4ab2324ac08b', 'set', 'place', '"Roof east"', '[]', 1785000000, 1785000000, NULL, 'test bench', NULL);
INSERT INTO public.entry VALUES ('bf14560e-1ada-41b5-9a99-2fc53b047b82', 'customer', '29b73774-6691-4593-a398-577c5ec7bcca', 'set', 'phone', NULL, '[]', 1785000000, 1785000000, NULL, 'test bench', NULL);
INSERT INTO public.entry VALUES ('940e9959-e12b-4587-b1e6-4c85549ae072', 'due_visit', '5a8cc71d-3869-40c5-b2b3-215250daa2b2', 'create', NULL, '{"unit_id": "1243012d-d11c-4017-8602-4ab2324ac08b", "due_on": "2027-05-31", "reason": "spring"}', '[]', 1785000000, 1785000000, NULL, 'test bench', NULL);
INSERT INTO public.entry_value VALUES ('dbd85738-e328-4ae4-ada4-e85e4bc62639', '{"name": "Ardenfield Mills", "phone": "555 0100"}');
INSERT INTO public.entry_value VALUES ('2274a966-d6aa-4ca2-b981-03f61d774116', '{"address": "12 Alder Street"}');
INSERT INTO public.entry_value VALUES ('bb9966ed-4c60-4907-b634-0a1188ce0673', '{"name": "Ines Calloway", "certification_type": "Universal"}');
INSERT INTO public.entry_value VALUES ('bf14560e-1ada-41b5-9a99-2fc53b047b82', '"555 0199"');
INSERT INTO public.feed VALUES (1, 1, '757cd1a5-4976-43ff-b191-11489ce549d8', 'suction_pressure', '', 'psig', '');
INSERT INTO public.latest_verdict VALUES ('757cd1a5-4976-43ff-b191-11489ce549d8', '216cc474-5e44-44a5-89c6-5d15c4e4d454', '3bb3ff2b-69b4-4881-a2d1-b470f06fef12', 'weak', 1785000000);
INSERT INTO public.mark VALUES ('3b17593f-26f3-42f9-9256-a7038271d733', '757cd1a5-4976-43ff-b191-11489ce549d8', 1785000009, NULL, 'push', 'cover on', 1785000000, NULL, 'test bench', false);
INSERT INTO public.override VALUES ('5b1abb3b-f055-4ed0-9ae7-ebf0afd8e26e', '3bb3ff2b-69b4-4881-a2d1-b470f06fef12', 'thermostat', 1785000000, NULL, 1785000000, NULL, 'test bench', false);
INSERT INTO public.person VALUES ('9f6624b2-a871-4329-87a1-333f16dfef99', 1785000000, 'Ines Calloway', 'Universal', NULL, NULL, NULL, NULL, 'technician');
INSERT INTO public.raw_file VALUES ('8ca6abd0afd7ed2a26ea4f7a83810322b1faf4add7d1b3931ba803017c9cf2b5', 54, '\x789c2bc9cc4dd5292e4d2ec9cccf8b2f284a2d2e2e2d4a8d2f28ce4ce732323032d33530d735320d3134b73232b0323088d23134b4d033e202000d0c1043', 1785000000);
INSERT INTO public.reading VALUES (1, 0, 1, '118.0', 1785000000, 0, 1785000030, NULL, 1);
INSERT INTO public.reading VALUES (1, 1, 1, '118.1', 1785000001, 0, 1785000030, NULL, 1);
INSERT INTO public.reading VALUES (1, 2, 1, '118.2', 1785000002, 0, 1785000030, NULL, 1);
INSERT INTO public.reading VALUES (1, 3, 1, '118.3', 1785000003, 0, 1785000030, NULL, 1);
INSERT INTO public.reading VALUES (1, 4, 1, '118.4', 1785000004, 0, 1785000030, NULL, 1);
INSERT INTO public.reading VALUES (1, 5, 1, '118.5', 1785000005, 0, 1785000030, NULL, 1);
INSERT INTO public.reading VALUES (1, 6, 1, '118.6', 1785000006, 0, 1785000030, NULL, 1);
INSERT INTO public.reading VALUES (1, 7, 1, '118.7', 1785000007, 0, 1785000030, NULL, 1);
INSERT INTO public.reading VALUES (1, 8, 1, '118.8', 1785000008, 0, 1785000030, NULL, 1);
INSERT INTO public.reading VALUES (1, 9, 1, '118.9', 1785000009, 0, 1785000030, NULL, 1);
INSERT INTO public.reading VALUES (1, 10, 1, '119.0', 1785000010, 0, 1785000030, NULL, 1);
INSERT INTO public.reading VALUES (1, 11, 1, '119.1', 1785000011, 0, 1785000030, NULL, 1);
INSERT INTO public.reading VALUES (1, 12, 1, '119.2', 1785000012, 0, 1785000030, NULL, 1);
INSERT INTO public.reading VALUES (1, 13, 1, '119.3', 1785000013, 0, 1785000030, NULL, 1);
INSERT INTO public.reading VALUES (1, 14, 1, '119.4', 1785000014, 0, 1785000030, NULL, 1);
INSERT INTO public.reading VALUES (1, 15, 1, '119.5', 1785000015, 0, 1785000030, NULL, 1);
INSERT INTO public.reading VALUES (1, 16, 1, '119.6', 1785000016, 0, 1785000030, NULL, 1);
INSERT INTO public.reading VALUES (1, 17, 1, '119.7', 1785000017, 0, 1785000030, NULL, 1);
INSERT INTO public.reading VALUES (1, 18, 1, '119.8', 1785000018, 0, 1785000030, NULL, 1);
INSERT INTO public.reading VALUES (1, 19, 1, '119.9', 1785000019, 0, 1785000030, NULL, 1);
INSERT INTO public.reading_batch VALUES (1, 1785000030, 20, '5901ef29c342a055430e5be658df395f07ee8c8434cb711ca9906039fce7a167');
INSERT INTO public.reading_conflict VALUES (1, 'gauge', 'b1', 3, '{"boot_id": "b1", "challenge_id": "757cd1a5-4976-43ff-b191-11489ce549d8", "channel": "suction_pressure", "device_time": null, "header": "", "quality": null, "read_by": "", "sequence": 3, "source": "gauge", "unit": "psig", "utc_offset": null, "value": "7"}', 1785000031);
INSERT INTO public.search_word VALUES ('house', '1243012d-d11c-4017-8602-4ab2324ac08b');
INSERT INTO public.search_word VALUES ('roof', '1243012d-d11c-4017-8602-4ab2324ac08b');
INSERT INTO public.search_word VALUES ('w05', '1243012d-d11c-4017-8602-4ab2324ac08b');
INSERT INTO public.search_word VALUES ('mill', '1243012d-d11c-4017-8602-4ab2324ac08b');
INSERT INTO public.search_word VALUES ('east', '1243012d-d11c-4017-8602-4ab2324ac08b');
INSERT INTO public.search_word VALUES ('alder', '1243012d-d11c-4017-8602-4ab2324ac08b');
INSERT INTO public.search_word VALUES ('mills', '1243012d-d11c-4017-8602-4ab2324ac08b');
INSERT INTO public.search_word VALUES ('ardenfield', '1243012d-d11c-4017-8602-4ab2324ac08b');
INSERT INTO public.search_word VALUES ('8830', '1243012d-d11c-4017-8602-4ab2324ac08b');
INSERT INTO public.search_word VALUES ('05', '1243012d-d11c-4017-8602-4ab2324ac08b');
INSERT INTO public.search_word VALUES ('12', '1243012d-d11c-4017-8602-4ab2324ac08b');
INSERT INTO public.search_word VALUES ('qx', '1243012d-d11c-4017-8602-4ab2324ac08b');
INSERT INTO public.search_word VALUES ('r410a', '1243012d-d11c-4017-8602-4ab2324ac08b');
INSERT INTO public.search_word VALUES ('qx22418830', '1243012d-d11c-4017-8602-4ab2324ac08b');
INSERT INTO public.search_word VALUES ('2241', '1243012d-d11c-4017-8602-4ab2324ac08b');
INSERT INTO public.search_word VALUES ('w', '1243012d-d11c-4017-8602-4ab2324ac08b');
INSERT INTO public.search_word VALUES ('street', '1243012d-d11c-4017-8602-4ab2324ac08b');
INSERT INTO public.site VALUES ('9e5524f5-dc27-40e7-9737-11b50027d954', 1785000000, '29b73774-6691-4593-a398-577c5ec7bcca', 'Mill house', '12 Alder Street', 120, NULL, NULL, NULL);
INSERT INTO public.stream VALUES (1, 'gauge', 'b1');
INSERT INTO public.unit VALUES ('1243012d-d11c-4017-8602-4ab2324ac08b', 1785000000, '9e5524f5-dc27-40e7-9737-11b50027d954', 'outdoor', 'W-05', 'Roof east', NULL, NULL, 'QX-2241-8830', NULL, NULL, NULL, NULL);
INSERT INTO public.verdict VALUES ('bd3ffe63-eacc-4dd2-9046-141575724ed5', '757cd1a5-4976-43ff-b191-11489ce549d8', NULL, '0.1.0+1', NULL, NULL, true, 'fixed', false, '[]', 0.12, NULL, NULL, '{"verdict": "fixed"}', '20d4a4d8cdd9c5c5bd4f4439c0b2c86937a5979d4d333842c3f1ec4fd910fcfc', '[]', 1785000000, NULL, NULL, false);
INSERT INTO public.verdict VALUES ('216cc474-5e44-44a5-89c6-5d15c4e4d454', '757cd1a5-4976-43ff-b191-11489ce549d8', 'bd3ffe63-eacc-4dd2-9046-141575724ed5', '0.1.0+1', NULL, NULL, true, 'weak', false, '[]', 0.12, NULL, NULL, '{"verdict": "weak"}', 'ba7b2f8f24a7312496e15107c5c9259315577471919d15c6c91979ab5b70e4ed', '[]', 1785000005, NULL, NULL, false);
INSERT INTO public.visit VALUES ('3bb3ff2b-69b4-4881-a2d1-b470f06fef12', 1785000000, '1243012d-d11c-4017-8602-4ab2324ac08b', '9f6624b2-a871-4329-87a1-333f16dfef99', NULL, 1785000000, NULL, NULL, NULL, 'warm air', NULL, NULL, NULL, NULL, NULL);
SELECT pg_catalog.setval('public.feed_key_seq', 1, true);
SELECT pg_catalog.setval('public.reading_batch_key_seq', 1, true);
SELECT pg_catalog.setval('public.reading_conflict_key_seq', 1, true);
SELECT pg_catalog.setval('public.stream_key_seq', 1, true);
ALTER TABLE ONLY public.alembic_version
    ADD CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num);
ALTER TABLE ONLY public.action
    ADD CONSTRAINT pk_action PRIMARY KEY (id);
ALTER TABLE ONLY public.attachment
    ADD CONSTRAINT pk_attachment PRIMARY KEY (id);
ALTER TABLE ONLY public.attachment_content
    ADD CONSTRAINT pk_attachment_content PRIMARY KEY (attachment_id);
ALTER TABLE ONLY public.calibration
    ADD CONSTRAINT pk_calibration PRIMARY KEY (id);
ALTER TABLE ONLY public.challenge
    ADD CONSTRAINT pk_challenge PRIMARY KEY (id);
ALTER TABLE ONLY public.challenge_log
    ADD CONSTRAINT pk_challenge_log PRIMARY KEY (id);
ALTER TABLE ONLY public.circuit
    ADD CONSTRAINT pk_circuit PRIMARY KEY (id);
ALTER TABLE ONLY public.circuit_refrigerant
    ADD CONSTRAINT pk_circuit_refrigerant PRIMARY KEY (id);
ALTER TABLE ONLY public.customer
    ADD CONSTRAINT pk_customer PRIMARY KEY (id);
ALTER TABLE ONLY public.delivery
    ADD CONSTRAINT pk_delivery PRIMARY KEY (id);
ALTER TABLE ONLY public.due_visit
    ADD CONSTRAINT pk_due_visit PRIMARY KEY (id);
ALTER TABLE ONLY public.entry
    ADD CONSTRAINT pk_entry PRIMARY KEY (id);
ALTER TABLE ONLY public.entry_value
    ADD CONSTRAINT pk_entry_value PRIMARY KEY (entry_id);
ALTER TABLE ONLY public.feed
    ADD CONSTRAINT pk_feed PRIMARY KEY (key);
ALTER TABLE ONLY public.finding
    ADD CONSTRAINT pk_finding PRIMARY KEY (id);
ALTER TABLE ONLY public.hand_over
    ADD CONSTRAINT pk_hand_over PRIMARY KEY (id);
ALTER TABLE ONLY public.installation
    ADD CONSTRAINT pk_installation PRIMARY KEY (id);
ALTER TABLE ONLY public.instrument
    ADD CONSTRAINT pk_instrument PRIMARY KEY (id);
ALTER TABLE ONLY public.instrument_use
    ADD CONSTRAINT pk_instrument_use PRIMARY KEY (id);
ALTER TABLE ONLY public.latest_verdict
    ADD CONSTRAINT pk_latest_verdict PRIMARY KEY (challenge_id);
ALTER TABLE ONLY public.line_set
    ADD CONSTRAINT pk_line_set PRIMARY KEY (id);
ALTER TABLE ONLY public.mark
    ADD CONSTRAINT pk_mark PRIMARY KEY (id);
ALTER TABLE ONLY public.nameplate
    ADD CONSTRAINT pk_nameplate PRIMARY KEY (id);
ALTER TABLE ONLY public.next_test
    ADD CONSTRAINT pk_next_test PRIMARY KEY (id);
ALTER TABLE ONLY public.override
    ADD CONSTRAINT pk_override PRIMARY KEY (id);
ALTER TABLE ONLY public.pair
    ADD CONSTRAINT pk_pair PRIMARY KEY (id);
ALTER TABLE ONLY public.part
    ADD CONSTRAINT pk_part PRIMARY KEY (id);
ALTER TABLE ONLY public.person
    ADD CONSTRAINT pk_person PRIMARY KEY (id);
ALTER TABLE ONLY public.put_back
    ADD CONSTRAINT pk_put_back PRIMARY KEY (id);
ALTER TABLE ONLY public.quality_mask
    ADD CONSTRAINT pk_quality_mask PRIMARY KEY (id);
ALTER TABLE ONLY public.raw_file
    ADD CONSTRAINT pk_raw_file PRIMARY KEY (sha256);
ALTER TABLE ONLY public.reading
    ADD CONSTRAINT pk_reading PRIMARY KEY (stream_key, sequence);
ALTER TABLE ONLY public.reading_batch
    ADD CONSTRAINT pk_reading_batch PRIMARY KEY (key);
ALTER TABLE ONLY public.reading_conflict
    ADD CONSTRAINT pk_reading_conflict PRIMARY KEY (key);
ALTER TABLE ONLY public.refrigerant_move
    ADD CONSTRAINT pk_refrigerant_move PRIMARY KEY (id);
ALTER TABLE ONLY public.search_word
    ADD CONSTRAINT pk_search_word PRIMARY KEY (word, unit_id);
ALTER TABLE ONLY public.sent_mark
    ADD CONSTRAINT pk_sent_mark PRIMARY KEY (peer, stream_key);
ALTER TABLE ONLY public.signature
    ADD CONSTRAINT pk_signature PRIMARY KEY (id);
ALTER TABLE ONLY public.site
    ADD CONSTRAINT pk_site PRIMARY KEY (id);
ALTER TABLE ONLY public.spot
    ADD CONSTRAINT pk_spot PRIMARY KEY (id);
ALTER TABLE ONLY public.spot_value
    ADD CONSTRAINT pk_spot_value PRIMARY KEY (id);
ALTER TABLE ONLY public.step
    ADD CONSTRAINT pk_step PRIMARY KEY (id);
ALTER TABLE ONLY public.stream
    ADD CONSTRAINT pk_stream PRIMARY KEY (key);
ALTER TABLE ONLY public.test_outcome
    ADD CONSTRAINT pk_test_outcome PRIMARY KEY (id);
ALTER TABLE ONLY public.unit
    ADD CONSTRAINT pk_unit PRIMARY KEY (id);
ALTER TABLE ONLY public.verdict
    ADD CONSTRAINT pk_verdict PRIMARY KEY (id);
ALTER TABLE ONLY public.visit
    ADD CONSTRAINT pk_visit PRIMARY KEY (id);
ALTER TABLE ONLY public.feed
    ADD CONSTRAINT uq_feed_stream_key_challenge_id_channel_header_unit_read_by UNIQUE (stream_key, challenge_id, channel, header, unit, read_by);
ALTER TABLE ONLY public.stream
    ADD CONSTRAINT uq_stream_source_boot_id UNIQUE (source, boot_id);
CREATE INDEX ix_action_visit_id ON public.action USING btree (visit_id);
CREATE INDEX ix_attachment_owner_id ON public.attachment USING btree (owner_id);
CREATE INDEX ix_calibration_instrument_id ON public.calibration USING btree (instrument_id);
CREATE INDEX ix_challenge_circuit_id ON public.challenge USING btree (circuit_id);
CREATE INDEX ix_challenge_log_challenge_id ON public.challenge_log USING btree (challenge_id);
CREATE INDEX ix_challenge_log_log_sha256 ON public.challenge_log USING btree (log_sha256);
CREATE INDEX ix_challenge_visit_id ON public.challenge USING btree (visit_id);
CREATE INDEX ix_circuit_refrigerant_circuit_id ON public.circuit_refrigerant USING btree (circuit_id);
CREATE INDEX ix_circuit_unit_id ON public.circuit USING btree (unit_id);
CREATE INDEX ix_delivery_visit_id ON public.delivery USING btree (visit_id);
CREATE INDEX ix_due_visit_unit_id ON public.due_visit USING btree (unit_id);
CREATE INDEX ix_entry_thing_id_field ON public.entry USING btree (thing_id, field);
CREATE INDEX ix_feed_challenge_id ON public.feed USING btree (challenge_id);
CREATE INDEX ix_finding_visit_id ON public.finding USING btree (visit_id);
CREATE INDEX ix_hand_over_visit_id ON public.hand_over USING btree (visit_id);
CREATE INDEX ix_installation_part_id ON public.installation USING btree (part_id);
CREATE INDEX ix_installation_unit_id ON public.installation USING btree (unit_id);
CREATE INDEX ix_instrument_use_visit_id ON public.instrument_use USING btree (visit_id);
CREATE INDEX ix_latest_verdict_verdict_opened_at ON public.latest_verdict USING btree (verdict, opened_at);
CREATE INDEX ix_latest_verdict_visit_id ON public.latest_verdict USING btree (visit_id);
CREATE INDEX ix_line_set_circuit_id ON public.line_set USING btree (circuit_id);
CREATE INDEX ix_mark_challenge_id ON public.mark USING btree (challenge_id);
CREATE INDEX ix_nameplate_unit_id ON public.nameplate USING btree (unit_id);
CREATE INDEX ix_next_test_visit_id ON public.next_test USING btree (visit_id);
CREATE INDEX ix_override_visit_id ON public.override USING btree (visit_id);
CREATE INDEX ix_pair_visit_id ON public.pair USING btree (visit_id);
CREATE INDEX ix_put_back_override_id ON public.put_back USING btree (override_id);
CREATE INDEX ix_quality_mask_verdict_id ON public.quality_mask USING btree (verdict_id);
CREATE INDEX ix_reading_batch_key ON public.reading USING btree (batch_key);
CREATE INDEX ix_reading_feed_key ON public.reading USING btree (feed_key);
CREATE INDEX ix_refrigerant_move_circuit_id ON public.refrigerant_move USING btree (circuit_id);
CREATE INDEX ix_refrigerant_move_visit_id ON public.refrigerant_move USING btree (visit_id);
CREATE INDEX ix_search_word_unit_id ON public.search_word USING btree (unit_id);
CREATE INDEX ix_signature_visit_id ON public.signature USING btree (visit_id);
CREATE INDEX ix_site_customer_id ON public.site USING btree (customer_id);
CREATE INDEX ix_spot_circuit_id ON public.spot USING btree (circuit_id);
CREATE INDEX ix_spot_value_spot_id ON public.spot_value USING btree (spot_id);
CREATE INDEX ix_spot_visit_id ON public.spot USING btree (visit_id);
CREATE INDEX ix_step_challenge_id ON public.step USING btree (challenge_id);
CREATE INDEX ix_test_outcome_next_test_id ON public.test_outcome USING btree (next_test_id);
CREATE INDEX ix_unit_site_id ON public.unit USING btree (site_id);
CREATE INDEX ix_unit_tag ON public.unit USING btree (tag);
CREATE INDEX ix_verdict_challenge_id ON public.verdict USING btree (challenge_id);
CREATE INDEX ix_visit_opened_at ON public.visit USING btree (opened_at);
CREATE INDEX ix_visit_unit_id_opened_at ON public.visit USING btree (unit_id, opened_at);
CREATE TRIGGER keep_action_d BEFORE DELETE ON public.action FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_action_t BEFORE TRUNCATE ON public.action FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_action_u BEFORE UPDATE OF id, visit_id, circuit_id, at, text, minutes, installation_id, made_at, person_id, device ON public.action FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_attachment_d BEFORE DELETE ON public.attachment FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_attachment_t BEFORE TRUNCATE ON public.attachment FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_attachment_u BEFORE UPDATE OF id, owner, owner_id, kind, media, size, sha256, received_sha256, width, height, taken_at, text, made_at, person_id, device ON public.attachment FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_calibration_d BEFORE DELETE ON public.calibration FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_calibration_t BEFORE TRUNCATE ON public.calibration FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_calibration_u BEFORE UPDATE OF id, instrument_id, valid_from, valid_until, certificate, made_at, person_id, device ON public.calibration FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_challenge_log_d BEFORE DELETE ON public.challenge_log FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_challenge_log_t BEFORE TRUNCATE ON public.challenge_log FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_challenge_log_u BEFORE UPDATE OF id, challenge_id, log_sha256, log_name, system_sha256, system_name, circuit_label, made_at, person_id, device ON public.challenge_log FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_circuit_refrigerant_d BEFORE DELETE ON public.circuit_refrigerant FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_circuit_refrigerant_t BEFORE TRUNCATE ON public.circuit_refrigerant FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_circuit_refrigerant_u BEFORE UPDATE OF id, circuit_id, refrigerant, from_at, made_at, person_id, device ON public.circuit_refrigerant FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_delivery_d BEFORE DELETE ON public.delivery FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_delivery_t BEFORE TRUNCATE ON public.delivery FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_delivery_u BEFORE UPDATE OF id, visit_id, document, sha256, way, at, made_at, person_id, device ON public.delivery FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_entry_d BEFORE DELETE ON public.entry FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_entry_t BEFORE TRUNCATE ON public.entry FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_entry_u BEFORE UPDATE OF id, thing, thing_id, kind, field, value, supersedes, made_at, received_at, person_id, device, reason ON public.entry FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_finding_d BEFORE DELETE ON public.finding FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_finding_t BEFORE TRUNCATE ON public.finding FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_finding_u BEFORE UPDATE OF id, visit_id, circuit_id, verdict_id, spot_id, code, text, likelihood, evidence_for, evidence_against, source, method_version, made_at, person_id, device ON public.finding FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_hand_over_d BEFORE DELETE ON public.hand_over FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_hand_over_t BEFORE TRUNCATE ON public.hand_over FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_hand_over_u BEFORE UPDATE OF id, visit_id, direction, at, from_person_id, to_person_id, from_device, to_device, sha256, readings, made_at, person_id, device ON public.hand_over FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_instrument_use_d BEFORE DELETE ON public.instrument_use FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_instrument_use_t BEFORE TRUNCATE ON public.instrument_use FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_instrument_use_u BEFORE UPDATE OF id, visit_id, instrument_id, place, made_at, person_id, device ON public.instrument_use FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_line_set_d BEFORE DELETE ON public.line_set FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_line_set_t BEFORE TRUNCATE ON public.line_set FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_line_set_u BEFORE UPDATE OF id, circuit_id, from_at, length, lift, liquid_line_diameter, suction_line_diameter, made_at, person_id, device ON public.line_set FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_mark_d BEFORE DELETE ON public.mark FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_mark_t BEFORE TRUNCATE ON public.mark FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_mark_u BEFORE UPDATE OF id, challenge_id, at, utc_offset, event, text, made_at, person_id, device ON public.mark FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_next_test_d BEFORE DELETE ON public.next_test FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_next_test_t BEFORE TRUNCATE ON public.next_test FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_next_test_u BEFORE UPDATE OF id, visit_id, finding_id, code, text, minutes, expected, made_at, person_id, device ON public.next_test FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_override_d BEFORE DELETE ON public.override FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_override_t BEFORE TRUNCATE ON public.override FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_override_u BEFORE UPDATE OF id, visit_id, what, at, text, made_at, person_id, device ON public.override FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_pair_d BEFORE DELETE ON public.pair FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_pair_t BEFORE TRUNCATE ON public.pair FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_pair_u BEFORE UPDATE OF id, visit_id, found_challenge_id, left_challenge_id, found_spot_id, left_spot_id, made_at, person_id, device ON public.pair FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_put_back_d BEFORE DELETE ON public.put_back FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_put_back_t BEFORE TRUNCATE ON public.put_back FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_put_back_u BEFORE UPDATE OF id, override_id, at, answer, text, made_at, person_id, device ON public.put_back FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_quality_mask_d BEFORE DELETE ON public.quality_mask FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_quality_mask_t BEFORE TRUNCATE ON public.quality_mask FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_quality_mask_u BEFORE UPDATE OF id, verdict_id, channel, flag, first_row, last_row, made_at, person_id, device ON public.quality_mask FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_raw_file_d BEFORE DELETE ON public.raw_file FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_raw_file_t BEFORE TRUNCATE ON public.raw_file FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_raw_file_u BEFORE UPDATE OF sha256, size, packed, received_at ON public.raw_file FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_reading_batch_d BEFORE DELETE ON public.reading_batch FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_reading_batch_t BEFORE TRUNCATE ON public.reading_batch FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_reading_batch_u BEFORE UPDATE OF key, committed_at, readings, sha256 ON public.reading_batch FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_reading_conflict_d BEFORE DELETE ON public.reading_conflict FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_reading_conflict_t BEFORE TRUNCATE ON public.reading_conflict FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_reading_conflict_u BEFORE UPDATE OF key, source, boot_id, sequence, reading, received_at ON public.reading_conflict FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_reading_d BEFORE DELETE ON public.reading FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_reading_t BEFORE TRUNCATE ON public.reading FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_reading_u BEFORE UPDATE OF stream_key, sequence, feed_key, value, device_time, utc_offset, received_at, quality, batch_key ON public.reading FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_refrigerant_move_d BEFORE DELETE ON public.refrigerant_move FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_refrigerant_move_t BEFORE TRUNCATE ON public.refrigerant_move FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_refrigerant_move_u BEFORE UPDATE OF id, visit_id, circuit_id, at, refrigerant, direction, weight_hundredth_oz, as_typed, cylinder, made_at, person_id, device ON public.refrigerant_move FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_signature_d BEFORE DELETE ON public.signature FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_signature_t BEFORE TRUNCATE ON public.signature FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_signature_u BEFORE UPDATE OF id, visit_id, role, attachment_id, signed_sha256, at, made_at, person_id, device ON public.signature FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_spot_d BEFORE DELETE ON public.spot FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_spot_t BEFORE TRUNCATE ON public.spot FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_spot_u BEFORE UPDATE OF id, visit_id, circuit_id, taken_at, utc_offset, mode, purpose, result, method_version, made_at, person_id, device ON public.spot FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_spot_value_d BEFORE DELETE ON public.spot_value FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_spot_value_t BEFORE TRUNCATE ON public.spot_value FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_spot_value_u BEFORE UPDATE OF id, spot_id, channel, value, unit, read_by, made_at, person_id, device ON public.spot_value FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_step_d BEFORE DELETE ON public.step FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_step_t BEFORE TRUNCATE ON public.step FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_step_u BEFORE UPDATE OF id, challenge_id, at, phase, cover, why, made_at, person_id, device ON public.step FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_test_outcome_d BEFORE DELETE ON public.test_outcome FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_test_outcome_t BEFORE TRUNCATE ON public.test_outcome FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_test_outcome_u BEFORE UPDATE OF id, next_test_id, outcome, text, made_at, person_id, device ON public.test_outcome FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_verdict_d BEFORE DELETE ON public.verdict FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_verdict_t BEFORE TRUNCATE ON public.verdict FOR EACH STATEMENT EXECUTE FUNCTION public.steadfeed_append_only();
CREATE TRIGGER keep_verdict_u BEFORE UPDATE OF id, challenge_id, supersedes, method_version, log_sha256, system_sha256, valid, verdict, early, reasons, feed_held, feed_held_low, feed_held_high, judgement, judgement_sha256, changed, made_at, person_id, device ON public.verdict FOR EACH ROW EXECUTE FUNCTION public.steadfeed_append_only();
ALTER TABLE ONLY public.action
    ADD CONSTRAINT fk_action_circuit_id FOREIGN KEY (circuit_id) REFERENCES public.circuit(id);
ALTER TABLE ONLY public.action
    ADD CONSTRAINT fk_action_installation_id FOREIGN KEY (installation_id) REFERENCES public.installation(id);
ALTER TABLE ONLY public.action
    ADD CONSTRAINT fk_action_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.action
    ADD CONSTRAINT fk_action_visit_id FOREIGN KEY (visit_id) REFERENCES public.visit(id);
ALTER TABLE ONLY public.attachment_content
    ADD CONSTRAINT fk_attachment_content_attachment_id FOREIGN KEY (attachment_id) REFERENCES public.attachment(id);
ALTER TABLE ONLY public.attachment
    ADD CONSTRAINT fk_attachment_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.calibration
    ADD CONSTRAINT fk_calibration_instrument_id FOREIGN KEY (instrument_id) REFERENCES public.instrument(id);
ALTER TABLE ONLY public.calibration
    ADD CONSTRAINT fk_calibration_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.challenge
    ADD CONSTRAINT fk_challenge_circuit_id FOREIGN KEY (circuit_id) REFERENCES public.circuit(id);
ALTER TABLE ONLY public.challenge_log
    ADD CONSTRAINT fk_challenge_log_challenge_id FOREIGN KEY (challenge_id) REFERENCES public.challenge(id);
ALTER TABLE ONLY public.challenge_log
    ADD CONSTRAINT fk_challenge_log_log_sha256 FOREIGN KEY (log_sha256) REFERENCES public.raw_file(sha256);
ALTER TABLE ONLY public.challenge_log
    ADD CONSTRAINT fk_challenge_log_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.challenge_log
    ADD CONSTRAINT fk_challenge_log_system_sha256 FOREIGN KEY (system_sha256) REFERENCES public.raw_file(sha256);
ALTER TABLE ONLY public.challenge
    ADD CONSTRAINT fk_challenge_visit_id FOREIGN KEY (visit_id) REFERENCES public.visit(id);
ALTER TABLE ONLY public.circuit
    ADD CONSTRAINT fk_circuit_indoor_unit_id FOREIGN KEY (indoor_unit_id) REFERENCES public.unit(id);
ALTER TABLE ONLY public.circuit_refrigerant
    ADD CONSTRAINT fk_circuit_refrigerant_circuit_id FOREIGN KEY (circuit_id) REFERENCES public.circuit(id);
ALTER TABLE ONLY public.circuit_refrigerant
    ADD CONSTRAINT fk_circuit_refrigerant_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.circuit
    ADD CONSTRAINT fk_circuit_unit_id FOREIGN KEY (unit_id) REFERENCES public.unit(id);
ALTER TABLE ONLY public.delivery
    ADD CONSTRAINT fk_delivery_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.delivery
    ADD CONSTRAINT fk_delivery_visit_id FOREIGN KEY (visit_id) REFERENCES public.visit(id);
ALTER TABLE ONLY public.due_visit
    ADD CONSTRAINT fk_due_visit_done_visit_id FOREIGN KEY (done_visit_id) REFERENCES public.visit(id);
ALTER TABLE ONLY public.due_visit
    ADD CONSTRAINT fk_due_visit_unit_id FOREIGN KEY (unit_id) REFERENCES public.unit(id);
ALTER TABLE ONLY public.due_visit
    ADD CONSTRAINT fk_due_visit_visit_id FOREIGN KEY (visit_id) REFERENCES public.visit(id);
ALTER TABLE ONLY public.entry
    ADD CONSTRAINT fk_entry_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.entry_value
    ADD CONSTRAINT fk_entry_value_entry_id FOREIGN KEY (entry_id) REFERENCES public.entry(id);
ALTER TABLE ONLY public.feed
    ADD CONSTRAINT fk_feed_challenge_id FOREIGN KEY (challenge_id) REFERENCES public.challenge(id);
ALTER TABLE ONLY public.feed
    ADD CONSTRAINT fk_feed_stream_key FOREIGN KEY (stream_key) REFERENCES public.stream(key);
ALTER TABLE ONLY public.finding
    ADD CONSTRAINT fk_finding_circuit_id FOREIGN KEY (circuit_id) REFERENCES public.circuit(id);
ALTER TABLE ONLY public.finding
    ADD CONSTRAINT fk_finding_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.finding
    ADD CONSTRAINT fk_finding_spot_id FOREIGN KEY (spot_id) REFERENCES public.spot(id);
ALTER TABLE ONLY public.finding
    ADD CONSTRAINT fk_finding_verdict_id FOREIGN KEY (verdict_id) REFERENCES public.verdict(id);
ALTER TABLE ONLY public.finding
    ADD CONSTRAINT fk_finding_visit_id FOREIGN KEY (visit_id) REFERENCES public.visit(id);
ALTER TABLE ONLY public.hand_over
    ADD CONSTRAINT fk_hand_over_from_person_id FOREIGN KEY (from_person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.hand_over
    ADD CONSTRAINT fk_hand_over_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.hand_over
    ADD CONSTRAINT fk_hand_over_to_person_id FOREIGN KEY (to_person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.hand_over
    ADD CONSTRAINT fk_hand_over_visit_id FOREIGN KEY (visit_id) REFERENCES public.visit(id);
ALTER TABLE ONLY public.installation
    ADD CONSTRAINT fk_installation_circuit_id FOREIGN KEY (circuit_id) REFERENCES public.circuit(id);
ALTER TABLE ONLY public.installation
    ADD CONSTRAINT fk_installation_part_id FOREIGN KEY (part_id) REFERENCES public.part(id);
ALTER TABLE ONLY public.installation
    ADD CONSTRAINT fk_installation_unit_id FOREIGN KEY (unit_id) REFERENCES public.unit(id);
ALTER TABLE ONLY public.instrument
    ADD CONSTRAINT fk_instrument_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.instrument_use
    ADD CONSTRAINT fk_instrument_use_instrument_id FOREIGN KEY (instrument_id) REFERENCES public.instrument(id);
ALTER TABLE ONLY public.instrument_use
    ADD CONSTRAINT fk_instrument_use_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.instrument_use
    ADD CONSTRAINT fk_instrument_use_visit_id FOREIGN KEY (visit_id) REFERENCES public.visit(id);
ALTER TABLE ONLY public.latest_verdict
    ADD CONSTRAINT fk_latest_verdict_challenge_id FOREIGN KEY (challenge_id) REFERENCES public.challenge(id);
ALTER TABLE ONLY public.latest_verdict
    ADD CONSTRAINT fk_latest_verdict_verdict_id FOREIGN KEY (verdict_id) REFERENCES public.verdict(id);
ALTER TABLE ONLY public.latest_verdict
    ADD CONSTRAINT fk_latest_verdict_visit_id FOREIGN KEY (visit_id) REFERENCES public.visit(id);
ALTER TABLE ONLY public.line_set
    ADD CONSTRAINT fk_line_set_circuit_id FOREIGN KEY (circuit_id) REFERENCES public.circuit(id);
ALTER TABLE ONLY public.line_set
    ADD CONSTRAINT fk_line_set_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.mark
    ADD CONSTRAINT fk_mark_challenge_id FOREIGN KEY (challenge_id) REFERENCES public.challenge(id);
ALTER TABLE ONLY public.mark
    ADD CONSTRAINT fk_mark_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.nameplate
    ADD CONSTRAINT fk_nameplate_circuit_id FOREIGN KEY (circuit_id) REFERENCES public.circuit(id);
ALTER TABLE ONLY public.nameplate
    ADD CONSTRAINT fk_nameplate_unit_id FOREIGN KEY (unit_id) REFERENCES public.unit(id);
ALTER TABLE ONLY public.next_test
    ADD CONSTRAINT fk_next_test_finding_id FOREIGN KEY (finding_id) REFERENCES public.finding(id);
ALTER TABLE ONLY public.next_test
    ADD CONSTRAINT fk_next_test_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.next_test
    ADD CONSTRAINT fk_next_test_visit_id FOREIGN KEY (visit_id) REFERENCES public.visit(id);
ALTER TABLE ONLY public.override
    ADD CONSTRAINT fk_override_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.override
    ADD CONSTRAINT fk_override_visit_id FOREIGN KEY (visit_id) REFERENCES public.visit(id);
ALTER TABLE ONLY public.pair
    ADD CONSTRAINT fk_pair_found_challenge_id FOREIGN KEY (found_challenge_id) REFERENCES public.challenge(id);
ALTER TABLE ONLY public.pair
    ADD CONSTRAINT fk_pair_found_spot_id FOREIGN KEY (found_spot_id) REFERENCES public.spot(id);
ALTER TABLE ONLY public.pair
    ADD CONSTRAINT fk_pair_left_challenge_id FOREIGN KEY (left_challenge_id) REFERENCES public.challenge(id);
ALTER TABLE ONLY public.pair
    ADD CONSTRAINT fk_pair_left_spot_id FOREIGN KEY (left_spot_id) REFERENCES public.spot(id);
ALTER TABLE ONLY public.pair
    ADD CONSTRAINT fk_pair_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.pair
    ADD CONSTRAINT fk_pair_visit_id FOREIGN KEY (visit_id) REFERENCES public.visit(id);
ALTER TABLE ONLY public.put_back
    ADD CONSTRAINT fk_put_back_override_id FOREIGN KEY (override_id) REFERENCES public.override(id);
ALTER TABLE ONLY public.put_back
    ADD CONSTRAINT fk_put_back_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.quality_mask
    ADD CONSTRAINT fk_quality_mask_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.quality_mask
    ADD CONSTRAINT fk_quality_mask_verdict_id FOREIGN KEY (verdict_id) REFERENCES public.verdict(id);
ALTER TABLE ONLY public.reading
    ADD CONSTRAINT fk_reading_batch_key FOREIGN KEY (batch_key) REFERENCES public.reading_batch(key);
ALTER TABLE ONLY public.reading
    ADD CONSTRAINT fk_reading_feed_key FOREIGN KEY (feed_key) REFERENCES public.feed(key);
ALTER TABLE ONLY public.reading
    ADD CONSTRAINT fk_reading_stream_key FOREIGN KEY (stream_key) REFERENCES public.stream(key);
ALTER TABLE ONLY public.refrigerant_move
    ADD CONSTRAINT fk_refrigerant_move_circuit_id FOREIGN KEY (circuit_id) REFERENCES public.circuit(id);
ALTER TABLE ONLY public.refrigerant_move
    ADD CONSTRAINT fk_refrigerant_move_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.refrigerant_move
    ADD CONSTRAINT fk_refrigerant_move_visit_id FOREIGN KEY (visit_id) REFERENCES public.visit(id);
ALTER TABLE ONLY public.search_word
    ADD CONSTRAINT fk_search_word_unit_id FOREIGN KEY (unit_id) REFERENCES public.unit(id);
ALTER TABLE ONLY public.sent_mark
    ADD CONSTRAINT fk_sent_mark_stream_key FOREIGN KEY (stream_key) REFERENCES public.stream(key);
ALTER TABLE ONLY public.signature
    ADD CONSTRAINT fk_signature_attachment_id FOREIGN KEY (attachment_id) REFERENCES public.attachment(id);
ALTER TABLE ONLY public.signature
    ADD CONSTRAINT fk_signature_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.signature
    ADD CONSTRAINT fk_signature_visit_id FOREIGN KEY (visit_id) REFERENCES public.visit(id);
ALTER TABLE ONLY public.site
    ADD CONSTRAINT fk_site_customer_id FOREIGN KEY (customer_id) REFERENCES public.customer(id);
ALTER TABLE ONLY public.spot
    ADD CONSTRAINT fk_spot_circuit_id FOREIGN KEY (circuit_id) REFERENCES public.circuit(id);
ALTER TABLE ONLY public.spot
    ADD CONSTRAINT fk_spot_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.spot_value
    ADD CONSTRAINT fk_spot_value_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.spot_value
    ADD CONSTRAINT fk_spot_value_spot_id FOREIGN KEY (spot_id) REFERENCES public.spot(id);
ALTER TABLE ONLY public.spot
    ADD CONSTRAINT fk_spot_visit_id FOREIGN KEY (visit_id) REFERENCES public.visit(id);
ALTER TABLE ONLY public.step
    ADD CONSTRAINT fk_step_challenge_id FOREIGN KEY (challenge_id) REFERENCES public.challenge(id);
ALTER TABLE ONLY public.step
    ADD CONSTRAINT fk_step_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.test_outcome
    ADD CONSTRAINT fk_test_outcome_next_test_id FOREIGN KEY (next_test_id) REFERENCES public.next_test(id);
ALTER TABLE ONLY public.test_outcome
    ADD CONSTRAINT fk_test_outcome_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.unit
    ADD CONSTRAINT fk_unit_site_id FOREIGN KEY (site_id) REFERENCES public.site(id);
ALTER TABLE ONLY public.verdict
    ADD CONSTRAINT fk_verdict_challenge_id FOREIGN KEY (challenge_id) REFERENCES public.challenge(id);
ALTER TABLE ONLY public.verdict
    ADD CONSTRAINT fk_verdict_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.visit
    ADD CONSTRAINT fk_visit_person_id FOREIGN KEY (person_id) REFERENCES public.person(id);
ALTER TABLE ONLY public.visit
    ADD CONSTRAINT fk_visit_reviewed_by FOREIGN KEY (reviewed_by) REFERENCES public.person(id);
ALTER TABLE ONLY public.visit
    ADD CONSTRAINT fk_visit_unit_id FOREIGN KEY (unit_id) REFERENCES public.unit(id);
\unrestrict r2NKWyalPKF0Ed8H9eaajnuu2Sisn48ALhMD4r1MgpwO6sN8bejvaLoVNRkAfHH
