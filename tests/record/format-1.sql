PRAGMA application_id = 1213156420;
PRAGMA user_version = 1;
BEGIN TRANSACTION;
CREATE TABLE "_sqlite_migrations" (
   "id" INTEGER PRIMARY KEY,
   "migration_set" TEXT,
   "name" TEXT,
   "applied_at" TEXT
);
INSERT INTO "_sqlite_migrations" VALUES(1,'holdctl','format_1','2026-11-25 13:21:29.890114+00:00');
CREATE TABLE events (
  seq INTEGER PRIMARY KEY, hold INTEGER NOT NULL REFERENCES holds(id),
  hold_ms INTEGER NOT NULL, host_ms INTEGER NOT NULL, utc_ms INTEGER NOT NULL,
  source TEXT NOT NULL CHECK (source IN ('in', 'out')), kind TEXT NOT NULL, name TEXT NOT NULL,
  text TEXT NOT NULL,
  detail TEXT NOT NULL CHECK (json_valid(detail))
) STRICT;
INSERT INTO "events" VALUES(13,1,11054,11054,1760000011178,'in','boot','power','node firmware 1.2','{"firmware":"1.2","probes":2,"max_lease_ms":5000,"cutouts_c":[90.0,null],"cause":"power","asked":true}');
INSERT INTO "events" VALUES(14,1,11054,11054,1760000011178,'out','note','note','malt in','{}');
CREATE TABLE holds (
  id INTEGER PRIMARY KEY,
  first_seq INTEGER NOT NULL, last_seq INTEGER,
  started_utc_ms INTEGER NOT NULL, ended_utc_ms INTEGER, ended_hold_ms INTEGER, state TEXT,
  warmer TEXT NOT NULL, programme TEXT NOT NULL, pace TEXT NOT NULL,
  simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
  version TEXT NOT NULL, boot_id TEXT NOT NULL, latched TEXT NOT NULL,
  config TEXT NOT NULL CHECK (json_valid(config)),
  n_base INTEGER NOT NULL DEFAULT 0, up_base INTEGER NOT NULL DEFAULT 0, ack_base INTEGER NOT NULL DEFAULT 0
) STRICT;
INSERT INTO "holds" VALUES(1,1,14,1760000000123,1760000011178,11054,'stopped','proving cupboard','rye night','host',1,'0.1.0','boot-1','[]','{"food_code":"uk"}',0,18034063,701);
CREATE TABLE requests (
  seq INTEGER PRIMARY KEY, hold INTEGER REFERENCES holds(id), filed_utc_ms INTEGER NOT NULL,
  placed_utc_ms INTEGER, kind TEXT, by TEXT, subject TEXT,
  outcome TEXT NOT NULL CHECK (outcome IN ('accepted', 'expired', 'refused')), reason TEXT NOT NULL,
  raw TEXT NOT NULL
) STRICT;
CREATE TABLE samples (
  seq INTEGER PRIMARY KEY,
  hold_ms INTEGER NOT NULL, host_off INTEGER NOT NULL, utc_off INTEGER NOT NULL,
  n_off INTEGER NOT NULL, up_off INTEGER NOT NULL, ack_off INTEGER NOT NULL,
  t1 INTEGER, t2 INTEGER, t3 INTEGER, t4 INTEGER,
  age_ms INTEGER NOT NULL, left_ms INTEGER NOT NULL, bad INTEGER NOT NULL, flags INTEGER NOT NULL,
  lease_ms INTEGER NOT NULL, step INTEGER NOT NULL, setpoint INTEGER, wall_setpoint INTEGER,
  duty INTEGER NOT NULL,
  wall_off INTEGER, paste_off INTEGER, coldest_off INTEGER, hottest_off INTEGER, mean_off INTEGER,
  credit_ms INTEGER NOT NULL
) STRICT;
INSERT INTO "samples" VALUES(1,46,0,0,0,0,0,7396,7203,NULL,NULL,849,0,0,272,1500,2,6500,6569,2208,633,900,255,80,-90,0);
INSERT INTO "samples" VALUES(2,1056,0,0,0,0,0,7399,7201,NULL,NULL,795,534,0,273,0,2,6500,6604,2474,597,900,262,80,-90,0);
INSERT INTO "samples" VALUES(3,2043,0,0,0,1,0,7397,7195,NULL,NULL,748,0,0,272,1500,2,6500,6613,1674,583,899,262,80,-90,0);
INSERT INTO "samples" VALUES(4,3056,0,0,0,2,0,7401,7197,NULL,NULL,943,527,0,273,0,2,6500,6569,1828,628,899,247,80,-90,0);
INSERT INTO "samples" VALUES(5,4041,0,1,0,1,0,7394,7200,NULL,NULL,940,0,0,272,0,2,6500,6570,1859,630,899,262,80,-90,0);
INSERT INTO "samples" VALUES(6,5038,0,0,0,2,0,7398,7193,NULL,NULL,615,0,0,272,0,2,6500,6597,1791,599,898,251,80,-90,0);
INSERT INTO "samples" VALUES(7,6049,0,1,0,0,0,7399,7196,NULL,NULL,876,0,0,272,0,2,6500,6585,2156,609,898,257,80,-90,0);
INSERT INTO "samples" VALUES(8,7068,0,1,0,0,0,7394,7192,NULL,NULL,865,0,0,272,0,2,6500,6580,1909,613,898,260,80,-90,0);
INSERT INTO "samples" VALUES(9,8065,0,1,0,1,0,7394,7192,NULL,NULL,777,0,0,272,1500,2,6500,6566,1869,626,897,263,80,-90,0);
INSERT INTO "samples" VALUES(10,9061,0,1,0,1,0,7395,7191,NULL,NULL,616,535,0,273,0,2,6500,6608,2048,582,897,259,80,-90,0);
INSERT INTO "samples" VALUES(11,10010,0,1,0,0,0,7395,7189,NULL,NULL,681,0,0,272,1500,2,6500,6628,1870,563,897,262,80,-90,0);
INSERT INTO "samples" VALUES(12,11054,0,1,0,1,0,7397,7189,NULL,NULL,655,512,0,273,521,2,6500,6617,1795,573,897,260,80,-90,0);
CREATE UNIQUE INDEX "idx__sqlite_migrations_migration_set_name"
    ON "_sqlite_migrations" ("migration_set", "name");
CREATE INDEX events_of_hold ON events (hold, seq);
CREATE INDEX events_trips ON events (seq) WHERE kind IN ('trip', 'reset');
CREATE VIEW samples_c AS
SELECT h.id AS hold, s.seq, s.hold_ms / 1000.0 AS hold_s, (s.hold_ms + s.host_off) / 1000.0 AS host_s,
  strftime('%Y-%m-%dT%H:%M:%fZ',
    (h.started_utc_ms + s.hold_ms + s.host_off + s.utc_off) / 1000.0, 'unixepoch') AS utc,
  CASE s.flags >> 4 & 7 WHEN 0 THEN 'idle' WHEN 1 THEN 'running' WHEN 2 THEN 'held' WHEN 3 THEN 'complete'
    WHEN 4 THEN 'stopping' WHEN 5 THEN 'stopped' WHEN 6 THEN 'aborting' ELSE 'aborted' END AS state,
  CASE s.flags >> 7 & 7 WHEN 0 THEN 'none' WHEN 1 THEN 'hold' WHEN 2 THEN 'settling' WHEN 3 THEN 'come-up'
    WHEN 4 THEN 'prompt' WHEN 5 THEN 'falling' ELSE 'hot holding' END AS phase,
  s.step, s.credit_ms / 1000.0 AS credit_s,
  s.t1 / 100.0 AS probe1_c, s.t2 / 100.0 AS probe2_c, s.t3 / 100.0 AS probe3_c, s.t4 / 100.0 AS probe4_c,
  CASE s.flags >> 10 & 3 WHEN 1 THEN 'open' WHEN 2 THEN 'short' WHEN 3 THEN 'range' END AS probe1_fault,
  CASE s.flags >> 12 & 3 WHEN 1 THEN 'open' WHEN 2 THEN 'short' WHEN 3 THEN 'range' END AS probe2_fault,
  CASE s.flags >> 14 & 3 WHEN 1 THEN 'open' WHEN 2 THEN 'short' WHEN 3 THEN 'range' END AS probe3_fault,
  CASE s.flags >> 16 & 3 WHEN 1 THEN 'open' WHEN 2 THEN 'short' WHEN 3 THEN 'range' END AS probe4_fault,
  s.setpoint / 100.0 AS setpoint_c, s.wall_setpoint / 100.0 AS wall_setpoint_c,
  (coalesce(s.wall_setpoint, 0) + s.wall_off) / 100.0 AS wall_c,
  (coalesce(s.setpoint, 0) + s.paste_off) / 100.0 AS paste_c,
  (coalesce(s.setpoint, 0) + s.paste_off - s.coldest_off) / 100.0 AS coldest_c,
  (coalesce(s.setpoint, 0) + s.paste_off + s.hottest_off) / 100.0 AS hottest_c,
  (coalesce(s.setpoint, 0) + s.paste_off + s.mean_off) / 100.0 AS mean_c,
  s.duty / 10000.0 AS duty, s.lease_ms, s.flags & 1 AS relay, s.flags >> 1 & 1 AS cut_out,
  CASE s.flags >> 2 & 3 WHEN 1 THEN 0 WHEN 2 THEN 1 END AS feedback,
  (s.n_off + h.n_base + s.seq - h.first_seq) & 65535 AS n, s.up_off + h.up_base + s.hold_ms AS up_ms,
  s.age_ms, s.left_ms, (s.ack_off + h.ack_base + s.seq - h.first_seq) & 65535 AS ack, s.bad
FROM holds h JOIN samples s ON s.seq BETWEEN h.first_seq AND coalesce(h.last_seq, 9223372036854775807);
CREATE VIEW events_utc AS
SELECT hold, seq, hold_ms / 1000.0 AS hold_s, host_ms / 1000.0 AS host_s,
  strftime('%Y-%m-%dT%H:%M:%fZ', utc_ms / 1000.0, 'unixepoch') AS utc, source, kind, name, text, detail
FROM events;
CREATE VIEW requests_utc AS
SELECT hold, seq,
  strftime('%Y-%m-%dT%H:%M:%fZ', filed_utc_ms / 1000.0, 'unixepoch') AS filed_utc,
  strftime('%Y-%m-%dT%H:%M:%fZ', placed_utc_ms / 1000.0, 'unixepoch') AS placed_utc,
  kind, by, subject, outcome, reason
FROM requests;
CREATE VIEW holds_utc AS
SELECT id AS hold,
  strftime('%Y-%m-%dT%H:%M:%fZ', started_utc_ms / 1000.0, 'unixepoch') AS started_utc,
  strftime('%Y-%m-%dT%H:%M:%fZ', ended_utc_ms / 1000.0, 'unixepoch') AS ended_utc,
  ended_hold_ms / 1000.0 AS length_s, state, warmer, programme, pace, simulated, version, boot_id, latched,
  config FROM holds;
COMMIT;
