BEGIN TRANSACTION;
CREATE TABLE action (
	id VARCHAR(36) NOT NULL, 
	visit_id VARCHAR(36) NOT NULL, 
	circuit_id VARCHAR(36), 
	at DOUBLE NOT NULL, 
	text TEXT NOT NULL, 
	minutes DOUBLE, 
	installation_id VARCHAR(36), 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_action PRIMARY KEY (id), 
	CONSTRAINT fk_action_circuit_id FOREIGN KEY(circuit_id) REFERENCES circuit (id), 
	CONSTRAINT fk_action_installation_id FOREIGN KEY(installation_id) REFERENCES installation (id), 
	CONSTRAINT fk_action_person_id FOREIGN KEY(person_id) REFERENCES person (id), 
	CONSTRAINT fk_action_visit_id FOREIGN KEY(visit_id) REFERENCES visit (id)
);
INSERT INTO "action" VALUES('f2aad3e0-e667-4957-abde-5f8e4b611836','e7b9b4f2-4f00-435b-9963-e0f759373535',NULL,1785000000.0,'cleaned the coil',NULL,NULL,1785000000.0,NULL,'test bench',1);
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0002');
CREATE TABLE attachment (
	id VARCHAR(36) NOT NULL, 
	owner TEXT NOT NULL, 
	owner_id VARCHAR(36) NOT NULL, 
	kind TEXT NOT NULL, 
	media TEXT NOT NULL, 
	size INTEGER NOT NULL, 
	sha256 VARCHAR(64) NOT NULL, 
	received_sha256 VARCHAR(64) NOT NULL, 
	width INTEGER, 
	height INTEGER, 
	taken_at DOUBLE, 
	text TEXT, 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_attachment PRIMARY KEY (id), 
	CONSTRAINT fk_attachment_person_id FOREIGN KEY(person_id) REFERENCES person (id)
);
CREATE TABLE attachment_content (
	attachment_id VARCHAR(36) NOT NULL, 
	content BLOB NOT NULL, 
	CONSTRAINT pk_attachment_content PRIMARY KEY (attachment_id), 
	CONSTRAINT fk_attachment_content_attachment_id FOREIGN KEY(attachment_id) REFERENCES attachment (id)
);
CREATE TABLE calibration (
	id VARCHAR(36) NOT NULL, 
	instrument_id VARCHAR(36) NOT NULL, 
	valid_from VARCHAR(10), 
	valid_until VARCHAR(10), 
	certificate TEXT, 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_calibration PRIMARY KEY (id), 
	CONSTRAINT fk_calibration_instrument_id FOREIGN KEY(instrument_id) REFERENCES instrument (id), 
	CONSTRAINT fk_calibration_person_id FOREIGN KEY(person_id) REFERENCES person (id)
);
CREATE TABLE challenge (
	id VARCHAR(36) NOT NULL, 
	created_at DOUBLE NOT NULL, 
	visit_id VARCHAR(36) NOT NULL, 
	circuit_id VARCHAR(36) NOT NULL, 
	started_at DOUBLE NOT NULL, 
	mode TEXT, 
	purpose TEXT, 
	note TEXT, 
	CONSTRAINT pk_challenge PRIMARY KEY (id), 
	CONSTRAINT fk_challenge_circuit_id FOREIGN KEY(circuit_id) REFERENCES circuit (id), 
	CONSTRAINT fk_challenge_visit_id FOREIGN KEY(visit_id) REFERENCES visit (id)
);
INSERT INTO "challenge" VALUES('6f21c98c-0837-4aae-9874-a1c552db5bfc',1785000000.0,'e7b9b4f2-4f00-435b-9963-e0f759373535','064187ef-4ba6-42dd-9748-e513ef3c9f23',1785000060.0,'cooling',NULL,NULL);
CREATE TABLE challenge_log (
	id VARCHAR(36) NOT NULL, 
	challenge_id VARCHAR(36) NOT NULL, 
	log_sha256 VARCHAR(64) NOT NULL, 
	log_name TEXT, 
	system_sha256 VARCHAR(64), 
	system_name TEXT, 
	circuit_label TEXT, 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_challenge_log PRIMARY KEY (id), 
	CONSTRAINT fk_challenge_log_challenge_id FOREIGN KEY(challenge_id) REFERENCES challenge (id), 
	CONSTRAINT fk_challenge_log_log_sha256 FOREIGN KEY(log_sha256) REFERENCES raw_file (sha256), 
	CONSTRAINT fk_challenge_log_person_id FOREIGN KEY(person_id) REFERENCES person (id), 
	CONSTRAINT fk_challenge_log_system_sha256 FOREIGN KEY(system_sha256) REFERENCES raw_file (sha256)
);
INSERT INTO "challenge_log" VALUES('11655984-63ba-4023-8b89-99a97d116819','6f21c98c-0837-4aae-9874-a1c552db5bfc','8ca6abd0afd7ed2a26ea4f7a83810322b1faf4add7d1b3931ba803017c9cf2b5','a.csv',NULL,NULL,NULL,1785000000.0,NULL,'test bench',0);
CREATE TABLE circuit (
	id VARCHAR(36) NOT NULL, 
	created_at DOUBLE NOT NULL, 
	unit_id VARCHAR(36) NOT NULL, 
	indoor_unit_id VARCHAR(36), 
	name TEXT, 
	metering_device TEXT, 
	nominal_capacity DOUBLE, 
	compressor_type TEXT, 
	compressor_control TEXT, 
	fan_control TEXT, 
	CONSTRAINT pk_circuit PRIMARY KEY (id), 
	CONSTRAINT fk_circuit_indoor_unit_id FOREIGN KEY(indoor_unit_id) REFERENCES unit (id), 
	CONSTRAINT fk_circuit_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id)
);
INSERT INTO "circuit" VALUES('064187ef-4ba6-42dd-9748-e513ef3c9f23',1785000000.0,'31cf3458-8159-4fae-ac8e-9a3074360b85',NULL,'1','txv',NULL,NULL,NULL,NULL);
CREATE TABLE circuit_refrigerant (
	id VARCHAR(36) NOT NULL, 
	circuit_id VARCHAR(36) NOT NULL, 
	refrigerant TEXT NOT NULL, 
	from_at DOUBLE, 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_circuit_refrigerant PRIMARY KEY (id), 
	CONSTRAINT fk_circuit_refrigerant_circuit_id FOREIGN KEY(circuit_id) REFERENCES circuit (id), 
	CONSTRAINT fk_circuit_refrigerant_person_id FOREIGN KEY(person_id) REFERENCES person (id)
);
INSERT INTO "circuit_refrigerant" VALUES('fcb80bf2-85ec-4e53-b28f-9577a6273531','064187ef-4ba6-42dd-9748-e513ef3c9f23','R-410A',NULL,1785000000.0,NULL,'test bench',0);
CREATE TABLE customer (
	id VARCHAR(36) NOT NULL, 
	created_at DOUBLE NOT NULL, 
	name TEXT, 
	phone TEXT, 
	email TEXT, 
	language TEXT, 
	note TEXT, 
	CONSTRAINT pk_customer PRIMARY KEY (id)
);
INSERT INTO "customer" VALUES('34554718-6325-4576-998f-4366e068b770',1785000000.0,'Ardenfield Mills','555 0199',NULL,NULL,NULL);
CREATE TABLE delivery (
	id VARCHAR(36) NOT NULL, 
	visit_id VARCHAR(36) NOT NULL, 
	document TEXT NOT NULL, 
	sha256 VARCHAR(64) NOT NULL, 
	way TEXT NOT NULL, 
	at DOUBLE NOT NULL, 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_delivery PRIMARY KEY (id), 
	CONSTRAINT fk_delivery_person_id FOREIGN KEY(person_id) REFERENCES person (id), 
	CONSTRAINT fk_delivery_visit_id FOREIGN KEY(visit_id) REFERENCES visit (id)
);
CREATE TABLE due_visit (
	id VARCHAR(36) NOT NULL, 
	created_at DOUBLE NOT NULL, 
	unit_id VARCHAR(36) NOT NULL, 
	due_on VARCHAR(10) NOT NULL, 
	reason TEXT, 
	condition TEXT, 
	visit_id VARCHAR(36), 
	done_visit_id VARCHAR(36), 
	CONSTRAINT pk_due_visit PRIMARY KEY (id), 
	CONSTRAINT fk_due_visit_done_visit_id FOREIGN KEY(done_visit_id) REFERENCES visit (id), 
	CONSTRAINT fk_due_visit_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id), 
	CONSTRAINT fk_due_visit_visit_id FOREIGN KEY(visit_id) REFERENCES visit (id)
);
INSERT INTO "due_visit" VALUES('8e2a4d87-8704-4e59-901a-a6ddc81b53c3',1785000000.0,'31cf3458-8159-4fae-ac8e-9a3074360b85','2027-05-31','spring',NULL,NULL,NULL);
CREATE TABLE entry (
	id VARCHAR(36) NOT NULL, 
	thing TEXT NOT NULL, 
	thing_id VARCHAR(36) NOT NULL, 
	kind TEXT NOT NULL, 
	field TEXT, 
	value TEXT, 
	supersedes TEXT NOT NULL, 
	made_at DOUBLE NOT NULL, 
	received_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	reason TEXT, 
	CONSTRAINT pk_entry PRIMARY KEY (id), 
	CONSTRAINT fk_entry_person_id FOREIGN KEY(person_id) REFERENCES person (id)
);
INSERT INTO "entry" VALUES('d9e03ef5-13fc-4948-8ac9-4bc57c69803d','customer','34554718-6325-4576-998f-4366e068b770','create',NULL,'{}','[]',1785000000.0,1785000000.0,NULL,'test bench',NULL);
INSERT INTO "entry" VALUES('aafb7760-de6c-4da7-b9de-f6bc6d50a38d','site','67676eee-ec4c-4fab-a5be-1077c88a39bf','create',NULL,'{"customer_id": "34554718-6325-4576-998f-4366e068b770", "name": "Mill house", "altitude": 120.0}','[]',1785000000.0,1785000000.0,NULL,'test bench',NULL);
INSERT INTO "entry" VALUES('eef94490-77e9-4ffb-9e60-91e4f020eac4','unit','31cf3458-8159-4fae-ac8e-9a3074360b85','create',NULL,'{"site_id": "67676eee-ec4c-4fab-a5be-1077c88a39bf", "kind": "outdoor", "tag": "W-05", "place": "Roof west", "serial": "QX-2241-8830"}','[]',1785000000.0,1785000000.0,NULL,'test bench',NULL);
INSERT INTO "entry" VALUES('c7d3eb4f-5f27-4ec9-8c91-2413b4743957','circuit','064187ef-4ba6-42dd-9748-e513ef3c9f23','create',NULL,'{"unit_id": "31cf3458-8159-4fae-ac8e-9a3074360b85", "name": "1", "metering_device": "txv"}','[]',1785000000.0,1785000000.0,NULL,'test bench',NULL);
INSERT INTO "entry" VALUES('109fffa7-9935-46c8-9f67-d4ca76a53cba','person','cac138ff-822d-43e0-8bf2-314aced183df','create',NULL,'{"role": "technician"}','[]',1785000000.0,1785000000.0,NULL,'test bench',NULL);
INSERT INTO "entry" VALUES('cc7c48ea-32ba-4d9e-b458-bd60846c1660','visit','e7b9b4f2-4f00-435b-9963-e0f759373535','create',NULL,'{"unit_id": "31cf3458-8159-4fae-ac8e-9a3074360b85", "person_id": "cac138ff-822d-43e0-8bf2-314aced183df", "opened_at": 1785000000.0, "complaint": "warm air"}','[]',1785000000.0,1785000000.0,NULL,'test bench',NULL);
INSERT INTO "entry" VALUES('341d3b76-8228-4012-9ae9-1464c286bcf5','challenge','6f21c98c-0837-4aae-9874-a1c552db5bfc','create',NULL,'{"visit_id": "e7b9b4f2-4f00-435b-9963-e0f759373535", "circuit_id": "064187ef-4ba6-42dd-9748-e513ef3c9f23", "started_at": 1785000060.0, "mode": "cooling"}','[]',1785000000.0,1785000000.0,NULL,'test bench',NULL);
INSERT INTO "entry" VALUES('de11db6f-ed88-49c8-8e98-6a2c65e9b400','action','f2aad3e0-e667-4957-abde-5f8e4b611836','set','withdrawn','true','[]',1785000000.0,1785000000.0,NULL,'test bench','wrong unit');
INSERT INTO "entry" VALUES('dd5d6741-059e-4d62-a793-82ee04383269','unit','31cf3458-8159-4fae-ac8e-9a3074360b85','set','place','"Roof east"','[]',1785000000.0,1785000000.0,NULL,'test bench',NULL);
INSERT INTO "entry" VALUES('2a6bcbc9-0e01-48f8-b0d3-b037c8a3f35b','customer','34554718-6325-4576-998f-4366e068b770','set','phone',NULL,'[]',1785000000.0,1785000000.0,NULL,'test bench',NULL);
INSERT INTO "entry" VALUES('9c74a0d1-c75e-44b0-8e57-5115bda8ee4a','due_visit','8e2a4d87-8704-4e59-901a-a6ddc81b53c3','create',NULL,'{"unit_id": "31cf3458-8159-4fae-ac8e-9a3074360b85", "due_on": "2027-05-31", "reason": "spring"}','[]',1785000000.0,1785000000.0,NULL,'test bench',NULL);
CREATE TABLE entry_value (
	entry_id VARCHAR(36) NOT NULL, 
	value TEXT, 
	CONSTRAINT pk_entry_value PRIMARY KEY (entry_id), 
	CONSTRAINT fk_entry_value_entry_id FOREIGN KEY(entry_id) REFERENCES entry (id)
);
INSERT INTO "entry_value" VALUES('d9e03ef5-13fc-4948-8ac9-4bc57c69803d','{"name": "Ardenfield Mills", "phone": "555 0100"}');
INSERT INTO "entry_value" VALUES('aafb7760-de6c-4da7-b9de-f6bc6d50a38d','{"address": "12 Alder Street"}');
INSERT INTO "entry_value" VALUES('109fffa7-9935-46c8-9f67-d4ca76a53cba','{"name": "Ines Calloway", "certification_type": "Universal"}');
INSERT INTO "entry_value" VALUES('2a6bcbc9-0e01-48f8-b0d3-b037c8a3f35b','"555 0199"');
CREATE TABLE feed (
	"key" INTEGER NOT NULL, 
	stream_key INTEGER NOT NULL, 
	challenge_id VARCHAR(36) NOT NULL, 
	channel TEXT NOT NULL, 
	header TEXT NOT NULL, 
	unit TEXT NOT NULL, 
	read_by TEXT NOT NULL, 
	CONSTRAINT pk_feed PRIMARY KEY ("key"), 
	CONSTRAINT fk_feed_challenge_id FOREIGN KEY(challenge_id) REFERENCES challenge (id), 
	CONSTRAINT fk_feed_stream_key FOREIGN KEY(stream_key) REFERENCES stream ("key"), 
	CONSTRAINT uq_feed_stream_key_challenge_id_channel_header_unit_read_by UNIQUE (stream_key, challenge_id, channel, header, unit, read_by)
);
INSERT INTO "feed" VALUES(1,1,'6f21c98c-0837-4aae-9874-a1c552db5bfc','suction_pressure','','psig','');
CREATE TABLE finding (
	id VARCHAR(36) NOT NULL, 
	visit_id VARCHAR(36) NOT NULL, 
	circuit_id VARCHAR(36), 
	verdict_id VARCHAR(36), 
	spot_id VARCHAR(36), 
	code TEXT NOT NULL, 
	text TEXT NOT NULL, 
	likelihood DOUBLE, 
	evidence_for TEXT, 
	evidence_against TEXT, 
	source TEXT, 
	method_version TEXT, 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_finding PRIMARY KEY (id), 
	CONSTRAINT fk_finding_circuit_id FOREIGN KEY(circuit_id) REFERENCES circuit (id), 
	CONSTRAINT fk_finding_person_id FOREIGN KEY(person_id) REFERENCES person (id), 
	CONSTRAINT fk_finding_spot_id FOREIGN KEY(spot_id) REFERENCES spot (id), 
	CONSTRAINT fk_finding_verdict_id FOREIGN KEY(verdict_id) REFERENCES verdict (id), 
	CONSTRAINT fk_finding_visit_id FOREIGN KEY(visit_id) REFERENCES visit (id)
);
CREATE TABLE hand_over (
	id VARCHAR(36) NOT NULL, 
	visit_id VARCHAR(36) NOT NULL, 
	direction TEXT NOT NULL, 
	at DOUBLE NOT NULL, 
	from_person_id VARCHAR(36), 
	to_person_id VARCHAR(36), 
	from_device TEXT, 
	to_device TEXT, 
	sha256 VARCHAR(64) NOT NULL, 
	readings INTEGER NOT NULL, 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_hand_over PRIMARY KEY (id), 
	CONSTRAINT fk_hand_over_from_person_id FOREIGN KEY(from_person_id) REFERENCES person (id), 
	CONSTRAINT fk_hand_over_person_id FOREIGN KEY(person_id) REFERENCES person (id), 
	CONSTRAINT fk_hand_over_to_person_id FOREIGN KEY(to_person_id) REFERENCES person (id), 
	CONSTRAINT fk_hand_over_visit_id FOREIGN KEY(visit_id) REFERENCES visit (id)
);
CREATE TABLE installation (
	id VARCHAR(36) NOT NULL, 
	created_at DOUBLE NOT NULL, 
	part_id VARCHAR(36) NOT NULL, 
	unit_id VARCHAR(36) NOT NULL, 
	circuit_id VARCHAR(36), 
	role TEXT NOT NULL, 
	from_at DOUBLE, 
	until_at DOUBLE, 
	reason TEXT, 
	end_reason TEXT, 
	CONSTRAINT pk_installation PRIMARY KEY (id), 
	CONSTRAINT fk_installation_circuit_id FOREIGN KEY(circuit_id) REFERENCES circuit (id), 
	CONSTRAINT fk_installation_part_id FOREIGN KEY(part_id) REFERENCES part (id), 
	CONSTRAINT fk_installation_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id)
);
CREATE TABLE instrument (
	id VARCHAR(36) NOT NULL, 
	created_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	kind TEXT NOT NULL, 
	accuracy_class TEXT, 
	serial TEXT, 
	maker TEXT, 
	model TEXT, 
	display TEXT, 
	pressure_reference TEXT, 
	pressure_accuracy DOUBLE, 
	temperature_accuracy DOUBLE, 
	CONSTRAINT pk_instrument PRIMARY KEY (id), 
	CONSTRAINT fk_instrument_person_id FOREIGN KEY(person_id) REFERENCES person (id)
);
CREATE TABLE instrument_use (
	id VARCHAR(36) NOT NULL, 
	visit_id VARCHAR(36) NOT NULL, 
	instrument_id VARCHAR(36) NOT NULL, 
	place TEXT, 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_instrument_use PRIMARY KEY (id), 
	CONSTRAINT fk_instrument_use_instrument_id FOREIGN KEY(instrument_id) REFERENCES instrument (id), 
	CONSTRAINT fk_instrument_use_person_id FOREIGN KEY(person_id) REFERENCES person (id), 
	CONSTRAINT fk_instrument_use_visit_id FOREIGN KEY(visit_id) REFERENCES visit (id)
);
CREATE TABLE latest_verdict (
	challenge_id VARCHAR(36) NOT NULL, 
	verdict_id VARCHAR(36) NOT NULL, 
	visit_id VARCHAR(36) NOT NULL, 
	verdict TEXT NOT NULL, 
	opened_at DOUBLE NOT NULL, 
	CONSTRAINT pk_latest_verdict PRIMARY KEY (challenge_id), 
	CONSTRAINT fk_latest_verdict_challenge_id FOREIGN KEY(challenge_id) REFERENCES challenge (id), 
	CONSTRAINT fk_latest_verdict_verdict_id FOREIGN KEY(verdict_id) REFERENCES verdict (id), 
	CONSTRAINT fk_latest_verdict_visit_id FOREIGN KEY(visit_id) REFERENCES visit (id)
);
INSERT INTO "latest_verdict" VALUES('6f21c98c-0837-4aae-9874-a1c552db5bfc','cda0ac68-b9ee-4edc-b820-4a1197d2368c','e7b9b4f2-4f00-435b-9963-e0f759373535','weak',1785000000.0);
CREATE TABLE line_set (
	id VARCHAR(36) NOT NULL, 
	circuit_id VARCHAR(36) NOT NULL, 
	from_at DOUBLE, 
	length DOUBLE, 
	lift DOUBLE, 
	liquid_line_diameter DOUBLE, 
	suction_line_diameter DOUBLE, 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_line_set PRIMARY KEY (id), 
	CONSTRAINT fk_line_set_circuit_id FOREIGN KEY(circuit_id) REFERENCES circuit (id), 
	CONSTRAINT fk_line_set_person_id FOREIGN KEY(person_id) REFERENCES person (id)
);
CREATE TABLE mark (
	id VARCHAR(36) NOT NULL, 
	challenge_id VARCHAR(36) NOT NULL, 
	at DOUBLE NOT NULL, 
	utc_offset DOUBLE, 
	event TEXT NOT NULL, 
	text TEXT, 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_mark PRIMARY KEY (id), 
	CONSTRAINT fk_mark_challenge_id FOREIGN KEY(challenge_id) REFERENCES challenge (id), 
	CONSTRAINT fk_mark_person_id FOREIGN KEY(person_id) REFERENCES person (id)
);
INSERT INTO "mark" VALUES('10a98369-78df-4844-8420-0723676f2596','6f21c98c-0837-4aae-9874-a1c552db5bfc',1785000009.0,NULL,'push','cover on',1785000000.0,NULL,'test bench',0);
CREATE TABLE nameplate (
	id VARCHAR(36) NOT NULL, 
	created_at DOUBLE NOT NULL, 
	unit_id VARCHAR(36) NOT NULL, 
	circuit_id VARCHAR(36), 
	subcooling DOUBLE, 
	superheat DOUBLE, 
	high_side_design_pressure DOUBLE, 
	high_side_is_working_limit BOOLEAN, 
	rated_current DOUBLE, 
	charge_hundredth_oz BIGINT, 
	as_typed TEXT, 
	CONSTRAINT pk_nameplate PRIMARY KEY (id), 
	CONSTRAINT fk_nameplate_circuit_id FOREIGN KEY(circuit_id) REFERENCES circuit (id), 
	CONSTRAINT fk_nameplate_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id)
);
CREATE TABLE next_test (
	id VARCHAR(36) NOT NULL, 
	visit_id VARCHAR(36) NOT NULL, 
	finding_id VARCHAR(36), 
	code TEXT NOT NULL, 
	text TEXT NOT NULL, 
	minutes DOUBLE, 
	expected TEXT, 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_next_test PRIMARY KEY (id), 
	CONSTRAINT fk_next_test_finding_id FOREIGN KEY(finding_id) REFERENCES finding (id), 
	CONSTRAINT fk_next_test_person_id FOREIGN KEY(person_id) REFERENCES person (id), 
	CONSTRAINT fk_next_test_visit_id FOREIGN KEY(visit_id) REFERENCES visit (id)
);
CREATE TABLE override (
	id VARCHAR(36) NOT NULL, 
	visit_id VARCHAR(36) NOT NULL, 
	what TEXT NOT NULL, 
	at DOUBLE NOT NULL, 
	text TEXT, 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_override PRIMARY KEY (id), 
	CONSTRAINT fk_override_person_id FOREIGN KEY(person_id) REFERENCES person (id), 
	CONSTRAINT fk_override_visit_id FOREIGN KEY(visit_id) REFERENCES visit (id)
);
INSERT INTO "override" VALUES('71325302-8fb0-4ce5-b23d-c008e0a77dc2','e7b9b4f2-4f00-435b-9963-e0f759373535','thermostat',1785000000.0,NULL,1785000000.0,NULL,'test bench',0);
CREATE TABLE pair (
	id VARCHAR(36) NOT NULL, 
	visit_id VARCHAR(36) NOT NULL, 
	found_challenge_id VARCHAR(36), 
	left_challenge_id VARCHAR(36), 
	found_spot_id VARCHAR(36), 
	left_spot_id VARCHAR(36), 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_pair PRIMARY KEY (id), 
	CONSTRAINT fk_pair_found_challenge_id FOREIGN KEY(found_challenge_id) REFERENCES challenge (id), 
	CONSTRAINT fk_pair_found_spot_id FOREIGN KEY(found_spot_id) REFERENCES spot (id), 
	CONSTRAINT fk_pair_left_challenge_id FOREIGN KEY(left_challenge_id) REFERENCES challenge (id), 
	CONSTRAINT fk_pair_left_spot_id FOREIGN KEY(left_spot_id) REFERENCES spot (id), 
	CONSTRAINT fk_pair_person_id FOREIGN KEY(person_id) REFERENCES person (id), 
	CONSTRAINT fk_pair_visit_id FOREIGN KEY(visit_id) REFERENCES visit (id)
);
CREATE TABLE part (
	id VARCHAR(36) NOT NULL, 
	created_at DOUBLE NOT NULL, 
	kind TEXT NOT NULL, 
	maker TEXT, 
	model TEXT, 
	serial TEXT, 
	note TEXT, 
	CONSTRAINT pk_part PRIMARY KEY (id)
);
CREATE TABLE person (
	id VARCHAR(36) NOT NULL, 
	created_at DOUBLE NOT NULL, 
	name TEXT, 
	certification_type TEXT, 
	certification_number TEXT, 
	licence TEXT, 
	phone TEXT, 
	email TEXT, 
	role TEXT, 
	CONSTRAINT pk_person PRIMARY KEY (id)
);
INSERT INTO "person" VALUES('cac138ff-822d-43e0-8bf2-314aced183df',1785000000.0,'Ines Calloway','Universal',NULL,NULL,NULL,NULL,'technician');
CREATE TABLE put_back (
	id VARCHAR(36) NOT NULL, 
	override_id VARCHAR(36) NOT NULL, 
	at DOUBLE NOT NULL, 
	answer TEXT NOT NULL, 
	text TEXT, 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_put_back PRIMARY KEY (id), 
	CONSTRAINT fk_put_back_override_id FOREIGN KEY(override_id) REFERENCES override (id), 
	CONSTRAINT fk_put_back_person_id FOREIGN KEY(person_id) REFERENCES person (id)
);
CREATE TABLE quality_mask (
	id VARCHAR(36) NOT NULL, 
	verdict_id VARCHAR(36) NOT NULL, 
	channel TEXT NOT NULL, 
	flag TEXT NOT NULL, 
	first_row INTEGER NOT NULL, 
	last_row INTEGER NOT NULL, 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_quality_mask PRIMARY KEY (id), 
	CONSTRAINT fk_quality_mask_person_id FOREIGN KEY(person_id) REFERENCES person (id), 
	CONSTRAINT fk_quality_mask_verdict_id FOREIGN KEY(verdict_id) REFERENCES verdict (id)
);
CREATE TABLE raw_file (
	sha256 VARCHAR(64) NOT NULL, 
	size BIGINT NOT NULL, 
	packed BLOB NOT NULL, 
	received_at DOUBLE NOT NULL, 
	CONSTRAINT pk_raw_file PRIMARY KEY (sha256)
);
INSERT INTO "raw_file" VALUES('8ca6abd0afd7ed2a26ea4f7a83810322b1faf4add7d1b3931ba803017c9cf2b5',54,X'789C2BC9CC4DD5292E4D2EC9CCCF8B2F284A2D2E2E2D4A8D2F28CE4CE732323032D33530D735320D3134B73232B0323088D23134B4D033E202000D0C1043',1785000000.0);
CREATE TABLE reading (
	stream_key INTEGER NOT NULL, 
	sequence BIGINT NOT NULL, 
	feed_key INTEGER NOT NULL, 
	value TEXT, 
	device_time DOUBLE, 
	utc_offset DOUBLE, 
	received_at DOUBLE NOT NULL, 
	quality TEXT, 
	batch_key INTEGER NOT NULL, 
	CONSTRAINT pk_reading PRIMARY KEY (stream_key, sequence), 
	CONSTRAINT fk_reading_batch_key FOREIGN KEY(batch_key) REFERENCES reading_batch ("key"), 
	CONSTRAINT fk_reading_feed_key FOREIGN KEY(feed_key) REFERENCES feed ("key"), 
	CONSTRAINT fk_reading_stream_key FOREIGN KEY(stream_key) REFERENCES stream ("key")
)
 WITHOUT ROWID

;
INSERT INTO "reading" VALUES(1,0,1,'118.0',1785000000.0,0.0,1785000030.0,NULL,1);
INSERT INTO "reading" VALUES(1,1,1,'118.1',1785000001.0,0.0,1785000030.0,NULL,1);
INSERT INTO "reading" VALUES(1,2,1,'118.2',1785000002.0,0.0,1785000030.0,NULL,1);
INSERT INTO "reading" VALUES(1,3,1,'118.3',1785000003.0,0.0,1785000030.0,NULL,1);
INSERT INTO "reading" VALUES(1,4,1,'118.4',1785000004.0,0.0,1785000030.0,NULL,1);
INSERT INTO "reading" VALUES(1,5,1,'118.5',1785000005.0,0.0,1785000030.0,NULL,1);
INSERT INTO "reading" VALUES(1,6,1,'118.6',1785000006.0,0.0,1785000030.0,NULL,1);
INSERT INTO "reading" VALUES(1,7,1,'118.7',1785000007.0,0.0,1785000030.0,NULL,1);
INSERT INTO "reading" VALUES(1,8,1,'118.8',1785000008.0,0.0,1785000030.0,NULL,1);
INSERT INTO "reading" VALUES(1,9,1,'118.9',1785000009.0,0.0,1785000030.0,NULL,1);
INSERT INTO "reading" VALUES(1,10,1,'119.0',1785000010.0,0.0,1785000030.0,NULL,1);
INSERT INTO "reading" VALUES(1,11,1,'119.1',1785000011.0,0.0,1785000030.0,NULL,1);
INSERT INTO "reading" VALUES(1,12,1,'119.2',1785000012.0,0.0,1785000030.0,NULL,1);
INSERT INTO "reading" VALUES(1,13,1,'119.3',1785000013.0,0.0,1785000030.0,NULL,1);
INSERT INTO "reading" VALUES(1,14,1,'119.4',1785000014.0,0.0,1785000030.0,NULL,1);
INSERT INTO "reading" VALUES(1,15,1,'119.5',1785000015.0,0.0,1785000030.0,NULL,1);
INSERT INTO "reading" VALUES(1,16,1,'119.6',1785000016.0,0.0,1785000030.0,NULL,1);
INSERT INTO "reading" VALUES(1,17,1,'119.7',1785000017.0,0.0,1785000030.0,NULL,1);
INSERT INTO "reading" VALUES(1,18,1,'119.8',1785000018.0,0.0,1785000030.0,NULL,1);
INSERT INTO "reading" VALUES(1,19,1,'119.9',1785000019.0,0.0,1785000030.0,NULL,1);
CREATE TABLE reading_batch (
	"key" INTEGER NOT NULL, 
	committed_at DOUBLE NOT NULL, 
	readings INTEGER NOT NULL, 
	sha256 VARCHAR(64) NOT NULL, 
	CONSTRAINT pk_reading_batch PRIMARY KEY ("key")
);
INSERT INTO "reading_batch" VALUES(1,1785000030.0,20,'6c2b9a9002db677324bcb98440df48ffb6dba9421d1bf2285ae378fa21367210');
CREATE TABLE reading_conflict (
	"key" INTEGER NOT NULL, 
	source TEXT NOT NULL, 
	boot_id TEXT NOT NULL, 
	sequence BIGINT NOT NULL, 
	reading TEXT NOT NULL, 
	received_at DOUBLE NOT NULL, 
	CONSTRAINT pk_reading_conflict PRIMARY KEY ("key")
);
INSERT INTO "reading_conflict" VALUES(1,'gauge','b1',3,'{"boot_id": "b1", "challenge_id": "6f21c98c-0837-4aae-9874-a1c552db5bfc", "channel": "suction_pressure", "device_time": null, "header": "", "quality": null, "read_by": "", "sequence": 3, "source": "gauge", "unit": "psig", "utc_offset": null, "value": "7"}',1785000031.0);
CREATE TABLE refrigerant_move (
	id VARCHAR(36) NOT NULL, 
	visit_id VARCHAR(36) NOT NULL, 
	circuit_id VARCHAR(36) NOT NULL, 
	at DOUBLE NOT NULL, 
	refrigerant TEXT NOT NULL, 
	direction TEXT NOT NULL, 
	weight_hundredth_oz BIGINT NOT NULL, 
	as_typed TEXT NOT NULL, 
	cylinder TEXT, 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_refrigerant_move PRIMARY KEY (id), 
	CONSTRAINT fk_refrigerant_move_circuit_id FOREIGN KEY(circuit_id) REFERENCES circuit (id), 
	CONSTRAINT fk_refrigerant_move_person_id FOREIGN KEY(person_id) REFERENCES person (id), 
	CONSTRAINT fk_refrigerant_move_visit_id FOREIGN KEY(visit_id) REFERENCES visit (id)
);
CREATE TABLE search_word (
	word TEXT NOT NULL, 
	unit_id VARCHAR(36) NOT NULL, 
	CONSTRAINT pk_search_word PRIMARY KEY (word, unit_id), 
	CONSTRAINT fk_search_word_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id)
);
INSERT INTO "search_word" VALUES('qx','31cf3458-8159-4fae-ac8e-9a3074360b85');
INSERT INTO "search_word" VALUES('r410a','31cf3458-8159-4fae-ac8e-9a3074360b85');
INSERT INTO "search_word" VALUES('qx22418830','31cf3458-8159-4fae-ac8e-9a3074360b85');
INSERT INTO "search_word" VALUES('2241','31cf3458-8159-4fae-ac8e-9a3074360b85');
INSERT INTO "search_word" VALUES('w','31cf3458-8159-4fae-ac8e-9a3074360b85');
INSERT INTO "search_word" VALUES('street','31cf3458-8159-4fae-ac8e-9a3074360b85');
INSERT INTO "search_word" VALUES('east','31cf3458-8159-4fae-ac8e-9a3074360b85');
INSERT INTO "search_word" VALUES('house','31cf3458-8159-4fae-ac8e-9a3074360b85');
INSERT INTO "search_word" VALUES('roof','31cf3458-8159-4fae-ac8e-9a3074360b85');
INSERT INTO "search_word" VALUES('alder','31cf3458-8159-4fae-ac8e-9a3074360b85');
INSERT INTO "search_word" VALUES('w05','31cf3458-8159-4fae-ac8e-9a3074360b85');
INSERT INTO "search_word" VALUES('mill','31cf3458-8159-4fae-ac8e-9a3074360b85');
INSERT INTO "search_word" VALUES('mills','31cf3458-8159-4fae-ac8e-9a3074360b85');
INSERT INTO "search_word" VALUES('ardenfield','31cf3458-8159-4fae-ac8e-9a3074360b85');
INSERT INTO "search_word" VALUES('8830','31cf3458-8159-4fae-ac8e-9a3074360b85');
INSERT INTO "search_word" VALUES('05','31cf3458-8159-4fae-ac8e-9a3074360b85');
INSERT INTO "search_word" VALUES('12','31cf3458-8159-4fae-ac8e-9a3074360b85');
CREATE TABLE sent_mark (
	peer VARCHAR(120) NOT NULL, 
	stream_key INTEGER NOT NULL, 
	sequence BIGINT NOT NULL, 
	CONSTRAINT pk_sent_mark PRIMARY KEY (peer, stream_key), 
	CONSTRAINT fk_sent_mark_stream_key FOREIGN KEY(stream_key) REFERENCES stream ("key")
);
CREATE TABLE signature (
	id VARCHAR(36) NOT NULL, 
	visit_id VARCHAR(36) NOT NULL, 
	role TEXT NOT NULL, 
	attachment_id VARCHAR(36), 
	signed_sha256 VARCHAR(64) NOT NULL, 
	at DOUBLE NOT NULL, 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_signature PRIMARY KEY (id), 
	CONSTRAINT fk_signature_attachment_id FOREIGN KEY(attachment_id) REFERENCES attachment (id), 
	CONSTRAINT fk_signature_person_id FOREIGN KEY(person_id) REFERENCES person (id), 
	CONSTRAINT fk_signature_visit_id FOREIGN KEY(visit_id) REFERENCES visit (id)
);
CREATE TABLE site (
	id VARCHAR(36) NOT NULL, 
	created_at DOUBLE NOT NULL, 
	customer_id VARCHAR(36), 
	name TEXT, 
	address TEXT, 
	altitude DOUBLE, 
	barometer DOUBLE, 
	time_zone TEXT, 
	note TEXT, 
	CONSTRAINT pk_site PRIMARY KEY (id), 
	CONSTRAINT fk_site_customer_id FOREIGN KEY(customer_id) REFERENCES customer (id)
);
INSERT INTO "site" VALUES('67676eee-ec4c-4fab-a5be-1077c88a39bf',1785000000.0,'34554718-6325-4576-998f-4366e068b770','Mill house','12 Alder Street',120.0,NULL,NULL,NULL);
CREATE TABLE spot (
	id VARCHAR(36) NOT NULL, 
	visit_id VARCHAR(36) NOT NULL, 
	circuit_id VARCHAR(36) NOT NULL, 
	taken_at DOUBLE NOT NULL, 
	utc_offset DOUBLE, 
	mode TEXT, 
	purpose TEXT, 
	result TEXT, 
	method_version TEXT, 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_spot PRIMARY KEY (id), 
	CONSTRAINT fk_spot_circuit_id FOREIGN KEY(circuit_id) REFERENCES circuit (id), 
	CONSTRAINT fk_spot_person_id FOREIGN KEY(person_id) REFERENCES person (id), 
	CONSTRAINT fk_spot_visit_id FOREIGN KEY(visit_id) REFERENCES visit (id)
);
CREATE TABLE spot_value (
	id VARCHAR(36) NOT NULL, 
	spot_id VARCHAR(36) NOT NULL, 
	channel TEXT NOT NULL, 
	value TEXT, 
	unit TEXT, 
	read_by TEXT, 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_spot_value PRIMARY KEY (id), 
	CONSTRAINT fk_spot_value_person_id FOREIGN KEY(person_id) REFERENCES person (id), 
	CONSTRAINT fk_spot_value_spot_id FOREIGN KEY(spot_id) REFERENCES spot (id)
);
CREATE TABLE step (
	id VARCHAR(36) NOT NULL, 
	challenge_id VARCHAR(36) NOT NULL, 
	at DOUBLE NOT NULL, 
	phase TEXT NOT NULL, 
	cover DOUBLE, 
	why TEXT, 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_step PRIMARY KEY (id), 
	CONSTRAINT fk_step_challenge_id FOREIGN KEY(challenge_id) REFERENCES challenge (id), 
	CONSTRAINT fk_step_person_id FOREIGN KEY(person_id) REFERENCES person (id)
);
CREATE TABLE stream (
	"key" INTEGER NOT NULL, 
	source TEXT NOT NULL, 
	boot_id TEXT NOT NULL, 
	CONSTRAINT pk_stream PRIMARY KEY ("key"), 
	CONSTRAINT uq_stream_source_boot_id UNIQUE (source, boot_id)
);
INSERT INTO "stream" VALUES(1,'gauge','b1');
CREATE TABLE test_outcome (
	id VARCHAR(36) NOT NULL, 
	next_test_id VARCHAR(36) NOT NULL, 
	outcome TEXT NOT NULL, 
	text TEXT, 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_test_outcome PRIMARY KEY (id), 
	CONSTRAINT fk_test_outcome_next_test_id FOREIGN KEY(next_test_id) REFERENCES next_test (id), 
	CONSTRAINT fk_test_outcome_person_id FOREIGN KEY(person_id) REFERENCES person (id)
);
CREATE TABLE unit (
	id VARCHAR(36) NOT NULL, 
	created_at DOUBLE NOT NULL, 
	site_id VARCHAR(36) NOT NULL, 
	kind TEXT NOT NULL, 
	tag TEXT, 
	place TEXT, 
	maker TEXT, 
	model TEXT, 
	serial TEXT, 
	installed_on VARCHAR(10), 
	service_interval_days INTEGER, 
	retired_at DOUBLE, 
	note TEXT, 
	CONSTRAINT pk_unit PRIMARY KEY (id), 
	CONSTRAINT fk_unit_site_id FOREIGN KEY(site_id) REFERENCES site (id)
);
INSERT INTO "unit" VALUES('31cf3458-8159-4fae-ac8e-9a3074360b85',1785000000.0,'67676eee-ec4c-4fab-a5be-1077c88a39bf','outdoor','W-05','Roof east',NULL,NULL,'QX-2241-8830',NULL,NULL,NULL,NULL);
CREATE TABLE verdict (
	id VARCHAR(36) NOT NULL, 
	challenge_id VARCHAR(36) NOT NULL, 
	supersedes VARCHAR(36), 
	method_version TEXT NOT NULL, 
	log_sha256 VARCHAR(64), 
	system_sha256 VARCHAR(64), 
	valid BOOLEAN NOT NULL, 
	verdict TEXT NOT NULL, 
	early BOOLEAN NOT NULL, 
	reasons TEXT NOT NULL, 
	feed_held DOUBLE, 
	feed_held_low DOUBLE, 
	feed_held_high DOUBLE, 
	judgement TEXT NOT NULL, 
	judgement_sha256 VARCHAR(64) NOT NULL, 
	changed TEXT NOT NULL, 
	made_at DOUBLE NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	withdrawn BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_verdict PRIMARY KEY (id), 
	CONSTRAINT fk_verdict_challenge_id FOREIGN KEY(challenge_id) REFERENCES challenge (id), 
	CONSTRAINT fk_verdict_person_id FOREIGN KEY(person_id) REFERENCES person (id)
);
INSERT INTO "verdict" VALUES('2f039219-16d7-4bae-8655-1c2100923f60','6f21c98c-0837-4aae-9874-a1c552db5bfc',NULL,'0.1.0+1',NULL,NULL,1,'fixed',0,'[]',0.12,NULL,NULL,'{"verdict": "fixed"}','20d4a4d8cdd9c5c5bd4f4439c0b2c86937a5979d4d333842c3f1ec4fd910fcfc','[]',1785000000.0,NULL,NULL,0);
INSERT INTO "verdict" VALUES('cda0ac68-b9ee-4edc-b820-4a1197d2368c','6f21c98c-0837-4aae-9874-a1c552db5bfc','2f039219-16d7-4bae-8655-1c2100923f60','0.1.0+1',NULL,NULL,1,'weak',0,'[]',0.12,NULL,NULL,'{"verdict": "weak"}','ba7b2f8f24a7312496e15107c5c9259315577471919d15c6c91979ab5b70e4ed','[]',1785000005.0,NULL,NULL,0);
CREATE TABLE visit (
	id VARCHAR(36) NOT NULL, 
	created_at DOUBLE NOT NULL, 
	unit_id VARCHAR(36) NOT NULL, 
	person_id VARCHAR(36), 
	device TEXT, 
	opened_at DOUBLE NOT NULL, 
	closed_at DOUBLE, 
	utc_offset DOUBLE, 
	reason TEXT, 
	complaint TEXT, 
	not_refrigerant TEXT, 
	draft TEXT, 
	review TEXT, 
	reviewed_by VARCHAR(36), 
	reviewed_at DOUBLE, 
	CONSTRAINT pk_visit PRIMARY KEY (id), 
	CONSTRAINT fk_visit_person_id FOREIGN KEY(person_id) REFERENCES person (id), 
	CONSTRAINT fk_visit_reviewed_by FOREIGN KEY(reviewed_by) REFERENCES person (id), 
	CONSTRAINT fk_visit_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id)
);
INSERT INTO "visit" VALUES('e7b9b4f2-4f00-435b-9963-e0f759373535',1785000000.0,'31cf3458-8159-4fae-ac8e-9a3074360b85','cac138ff-822d-43e0-8bf2-314aced183df',NULL,1785000000.0,NULL,NULL,NULL,'warm air',NULL,NULL,NULL,NULL,NULL);
CREATE INDEX ix_attachment_owner_id ON attachment (owner_id);
CREATE INDEX ix_entry_thing_id_field ON entry (thing_id, field);
CREATE INDEX ix_site_customer_id ON site (customer_id);
CREATE INDEX ix_calibration_instrument_id ON calibration (instrument_id);
CREATE INDEX ix_unit_site_id ON unit (site_id);
CREATE INDEX ix_unit_tag ON unit (tag);
CREATE INDEX ix_circuit_unit_id ON circuit (unit_id);
CREATE INDEX ix_search_word_unit_id ON search_word (unit_id);
CREATE INDEX ix_visit_opened_at ON visit (opened_at);
CREATE INDEX ix_visit_unit_id_opened_at ON visit (unit_id, opened_at);
CREATE INDEX ix_challenge_circuit_id ON challenge (circuit_id);
CREATE INDEX ix_challenge_visit_id ON challenge (visit_id);
CREATE INDEX ix_circuit_refrigerant_circuit_id ON circuit_refrigerant (circuit_id);
CREATE INDEX ix_delivery_visit_id ON delivery (visit_id);
CREATE INDEX ix_due_visit_unit_id ON due_visit (unit_id);
CREATE INDEX ix_installation_part_id ON installation (part_id);
CREATE INDEX ix_installation_unit_id ON installation (unit_id);
CREATE INDEX ix_instrument_use_visit_id ON instrument_use (visit_id);
CREATE INDEX ix_line_set_circuit_id ON line_set (circuit_id);
CREATE INDEX ix_nameplate_unit_id ON nameplate (unit_id);
CREATE INDEX ix_override_visit_id ON override (visit_id);
CREATE INDEX ix_refrigerant_move_circuit_id ON refrigerant_move (circuit_id);
CREATE INDEX ix_refrigerant_move_visit_id ON refrigerant_move (visit_id);
CREATE INDEX ix_signature_visit_id ON signature (visit_id);
CREATE INDEX ix_spot_circuit_id ON spot (circuit_id);
CREATE INDEX ix_spot_visit_id ON spot (visit_id);
CREATE INDEX ix_action_visit_id ON action (visit_id);
CREATE INDEX ix_challenge_log_challenge_id ON challenge_log (challenge_id);
CREATE INDEX ix_challenge_log_log_sha256 ON challenge_log (log_sha256);
CREATE INDEX ix_feed_challenge_id ON feed (challenge_id);
CREATE INDEX ix_mark_challenge_id ON mark (challenge_id);
CREATE INDEX ix_pair_visit_id ON pair (visit_id);
CREATE INDEX ix_put_back_override_id ON put_back (override_id);
CREATE INDEX ix_spot_value_spot_id ON spot_value (spot_id);
CREATE INDEX ix_step_challenge_id ON step (challenge_id);
CREATE INDEX ix_verdict_challenge_id ON verdict (challenge_id);
CREATE INDEX ix_finding_visit_id ON finding (visit_id);
CREATE INDEX ix_latest_verdict_verdict_opened_at ON latest_verdict (verdict, opened_at);
CREATE INDEX ix_latest_verdict_visit_id ON latest_verdict (visit_id);
CREATE INDEX ix_quality_mask_verdict_id ON quality_mask (verdict_id);
CREATE INDEX ix_reading_batch_key ON reading (batch_key);
CREATE INDEX ix_reading_feed_key ON reading (feed_key);
CREATE INDEX ix_next_test_visit_id ON next_test (visit_id);
CREATE INDEX ix_test_outcome_next_test_id ON test_outcome (next_test_id);
CREATE TRIGGER keep_circuit_refrigerant_u BEFORE UPDATE OF id, circuit_id, refrigerant, from_at, made_at, person_id, device ON circuit_refrigerant BEGIN SELECT RAISE(ABORT, 'circuit_refrigerant is append-only'); END;
CREATE TRIGGER keep_circuit_refrigerant_d BEFORE DELETE ON circuit_refrigerant BEGIN SELECT RAISE(ABORT, 'circuit_refrigerant is append-only'); END;
CREATE TRIGGER keep_line_set_u BEFORE UPDATE OF id, circuit_id, from_at, length, lift, liquid_line_diameter, suction_line_diameter, made_at, person_id, device ON line_set BEGIN SELECT RAISE(ABORT, 'line_set is append-only'); END;
CREATE TRIGGER keep_line_set_d BEFORE DELETE ON line_set BEGIN SELECT RAISE(ABORT, 'line_set is append-only'); END;
CREATE TRIGGER keep_calibration_u BEFORE UPDATE OF id, instrument_id, valid_from, valid_until, certificate, made_at, person_id, device ON calibration BEGIN SELECT RAISE(ABORT, 'calibration is append-only'); END;
CREATE TRIGGER keep_calibration_d BEFORE DELETE ON calibration BEGIN SELECT RAISE(ABORT, 'calibration is append-only'); END;
CREATE TRIGGER keep_instrument_use_u BEFORE UPDATE OF id, visit_id, instrument_id, place, made_at, person_id, device ON instrument_use BEGIN SELECT RAISE(ABORT, 'instrument_use is append-only'); END;
CREATE TRIGGER keep_instrument_use_d BEFORE DELETE ON instrument_use BEGIN SELECT RAISE(ABORT, 'instrument_use is append-only'); END;
CREATE TRIGGER keep_challenge_log_u BEFORE UPDATE OF id, challenge_id, log_sha256, log_name, system_sha256, system_name, circuit_label, made_at, person_id, device ON challenge_log BEGIN SELECT RAISE(ABORT, 'challenge_log is append-only'); END;
CREATE TRIGGER keep_challenge_log_d BEFORE DELETE ON challenge_log BEGIN SELECT RAISE(ABORT, 'challenge_log is append-only'); END;
CREATE TRIGGER keep_mark_u BEFORE UPDATE OF id, challenge_id, at, utc_offset, event, text, made_at, person_id, device ON mark BEGIN SELECT RAISE(ABORT, 'mark is append-only'); END;
CREATE TRIGGER keep_mark_d BEFORE DELETE ON mark BEGIN SELECT RAISE(ABORT, 'mark is append-only'); END;
CREATE TRIGGER keep_step_u BEFORE UPDATE OF id, challenge_id, at, phase, cover, why, made_at, person_id, device ON step BEGIN SELECT RAISE(ABORT, 'step is append-only'); END;
CREATE TRIGGER keep_step_d BEFORE DELETE ON step BEGIN SELECT RAISE(ABORT, 'step is append-only'); END;
CREATE TRIGGER keep_spot_u BEFORE UPDATE OF id, visit_id, circuit_id, taken_at, utc_offset, mode, purpose, result, method_version, made_at, person_id, device ON spot BEGIN SELECT RAISE(ABORT, 'spot is append-only'); END;
CREATE TRIGGER keep_spot_d BEFORE DELETE ON spot BEGIN SELECT RAISE(ABORT, 'spot is append-only'); END;
CREATE TRIGGER keep_spot_value_u BEFORE UPDATE OF id, spot_id, channel, value, unit, read_by, made_at, person_id, device ON spot_value BEGIN SELECT RAISE(ABORT, 'spot_value is append-only'); END;
CREATE TRIGGER keep_spot_value_d BEFORE DELETE ON spot_value BEGIN SELECT RAISE(ABORT, 'spot_value is append-only'); END;
CREATE TRIGGER keep_verdict_u BEFORE UPDATE OF id, challenge_id, supersedes, method_version, log_sha256, system_sha256, valid, verdict, early, reasons, feed_held, feed_held_low, feed_held_high, judgement, judgement_sha256, changed, made_at, person_id, device ON verdict BEGIN SELECT RAISE(ABORT, 'verdict is append-only'); END;
CREATE TRIGGER keep_verdict_d BEFORE DELETE ON verdict BEGIN SELECT RAISE(ABORT, 'verdict is append-only'); END;
CREATE TRIGGER keep_quality_mask_u BEFORE UPDATE OF id, verdict_id, channel, flag, first_row, last_row, made_at, person_id, device ON quality_mask BEGIN SELECT RAISE(ABORT, 'quality_mask is append-only'); END;
CREATE TRIGGER keep_quality_mask_d BEFORE DELETE ON quality_mask BEGIN SELECT RAISE(ABORT, 'quality_mask is append-only'); END;
CREATE TRIGGER keep_finding_u BEFORE UPDATE OF id, visit_id, circuit_id, verdict_id, spot_id, code, text, likelihood, evidence_for, evidence_against, source, method_version, made_at, person_id, device ON finding BEGIN SELECT RAISE(ABORT, 'finding is append-only'); END;
CREATE TRIGGER keep_finding_d BEFORE DELETE ON finding BEGIN SELECT RAISE(ABORT, 'finding is append-only'); END;
CREATE TRIGGER keep_next_test_u BEFORE UPDATE OF id, visit_id, finding_id, code, text, minutes, expected, made_at, person_id, device ON next_test BEGIN SELECT RAISE(ABORT, 'next_test is append-only'); END;
CREATE TRIGGER keep_next_test_d BEFORE DELETE ON next_test BEGIN SELECT RAISE(ABORT, 'next_test is append-only'); END;
CREATE TRIGGER keep_test_outcome_u BEFORE UPDATE OF id, next_test_id, outcome, text, made_at, person_id, device ON test_outcome BEGIN SELECT RAISE(ABORT, 'test_outcome is append-only'); END;
CREATE TRIGGER keep_test_outcome_d BEFORE DELETE ON test_outcome BEGIN SELECT RAISE(ABORT, 'test_outcome is append-only'); END;
CREATE TRIGGER keep_action_u BEFORE UPDATE OF id, visit_id, circuit_id, at, text, minutes, installation_id, made_at, person_id, device ON action BEGIN SELECT RAISE(ABORT, 'action is append-only'); END;
CREATE TRIGGER keep_action_d BEFORE DELETE ON action BEGIN SELECT RAISE(ABORT, 'action is append-only'); END;
CREATE TRIGGER keep_refrigerant_move_u BEFORE UPDATE OF id, visit_id, circuit_id, at, refrigerant, direction, weight_hundredth_oz, as_typed, cylinder, made_at, person_id, device ON refrigerant_move BEGIN SELECT RAISE(ABORT, 'refrigerant_move is append-only'); END;
CREATE TRIGGER keep_refrigerant_move_d BEFORE DELETE ON refrigerant_move BEGIN SELECT RAISE(ABORT, 'refrigerant_move is append-only'); END;
CREATE TRIGGER keep_override_u BEFORE UPDATE OF id, visit_id, what, at, text, made_at, person_id, device ON override BEGIN SELECT RAISE(ABORT, 'override is append-only'); END;
CREATE TRIGGER keep_override_d BEFORE DELETE ON override BEGIN SELECT RAISE(ABORT, 'override is append-only'); END;
CREATE TRIGGER keep_put_back_u BEFORE UPDATE OF id, override_id, at, answer, text, made_at, person_id, device ON put_back BEGIN SELECT RAISE(ABORT, 'put_back is append-only'); END;
CREATE TRIGGER keep_put_back_d BEFORE DELETE ON put_back BEGIN SELECT RAISE(ABORT, 'put_back is append-only'); END;
CREATE TRIGGER keep_pair_u BEFORE UPDATE OF id, visit_id, found_challenge_id, left_challenge_id, found_spot_id, left_spot_id, made_at, person_id, device ON pair BEGIN SELECT RAISE(ABORT, 'pair is append-only'); END;
CREATE TRIGGER keep_pair_d BEFORE DELETE ON pair BEGIN SELECT RAISE(ABORT, 'pair is append-only'); END;
CREATE TRIGGER keep_attachment_u BEFORE UPDATE OF id, owner, owner_id, kind, media, size, sha256, received_sha256, width, height, taken_at, text, made_at, person_id, device ON attachment BEGIN SELECT RAISE(ABORT, 'attachment is append-only'); END;
CREATE TRIGGER keep_attachment_d BEFORE DELETE ON attachment BEGIN SELECT RAISE(ABORT, 'attachment is append-only'); END;
CREATE TRIGGER keep_signature_u BEFORE UPDATE OF id, visit_id, role, attachment_id, signed_sha256, at, made_at, person_id, device ON signature BEGIN SELECT RAISE(ABORT, 'signature is append-only'); END;
CREATE TRIGGER keep_signature_d BEFORE DELETE ON signature BEGIN SELECT RAISE(ABORT, 'signature is append-only'); END;
CREATE TRIGGER keep_delivery_u BEFORE UPDATE OF id, visit_id, document, sha256, way, at, made_at, person_id, device ON delivery BEGIN SELECT RAISE(ABORT, 'delivery is append-only'); END;
CREATE TRIGGER keep_delivery_d BEFORE DELETE ON delivery BEGIN SELECT RAISE(ABORT, 'delivery is append-only'); END;
CREATE TRIGGER keep_entry_u BEFORE UPDATE OF id, thing, thing_id, kind, field, value, supersedes, made_at, received_at, person_id, device, reason ON entry BEGIN SELECT RAISE(ABORT, 'entry is append-only'); END;
CREATE TRIGGER keep_entry_d BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'entry is append-only'); END;
CREATE TRIGGER keep_raw_file_u BEFORE UPDATE OF sha256, size, packed, received_at ON raw_file BEGIN SELECT RAISE(ABORT, 'raw_file is append-only'); END;
CREATE TRIGGER keep_raw_file_d BEFORE DELETE ON raw_file BEGIN SELECT RAISE(ABORT, 'raw_file is append-only'); END;
CREATE TRIGGER keep_reading_u BEFORE UPDATE OF stream_key, sequence, feed_key, value, device_time, utc_offset, received_at, quality, batch_key ON reading BEGIN SELECT RAISE(ABORT, 'reading is append-only'); END;
CREATE TRIGGER keep_reading_d BEFORE DELETE ON reading BEGIN SELECT RAISE(ABORT, 'reading is append-only'); END;
CREATE TRIGGER keep_reading_batch_u BEFORE UPDATE OF key, committed_at, readings, sha256 ON reading_batch BEGIN SELECT RAISE(ABORT, 'reading_batch is append-only'); END;
CREATE TRIGGER keep_reading_batch_d BEFORE DELETE ON reading_batch BEGIN SELECT RAISE(ABORT, 'reading_batch is append-only'); END;
CREATE TRIGGER keep_reading_conflict_u BEFORE UPDATE OF key, source, boot_id, sequence, reading, received_at ON reading_conflict BEGIN SELECT RAISE(ABORT, 'reading_conflict is append-only'); END;
CREATE TRIGGER keep_reading_conflict_d BEFORE DELETE ON reading_conflict BEGIN SELECT RAISE(ABORT, 'reading_conflict is append-only'); END;
CREATE INDEX ix_hand_over_visit_id ON hand_over (visit_id);
CREATE TRIGGER keep_hand_over_u BEFORE UPDATE OF id, visit_id, direction, at, from_person_id, to_person_id, from_device, to_device, sha256, readings, made_at, person_id, device ON hand_over BEGIN SELECT RAISE(ABORT, 'hand_over is append-only'); END;
CREATE TRIGGER keep_hand_over_d BEFORE DELETE ON hand_over BEGIN SELECT RAISE(ABORT, 'hand_over is append-only'); END;
COMMIT;
