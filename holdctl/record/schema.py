"""The record's tables, views and migrations. docs/record.md describes every column.

Readable values are in the views (units in the column names, UTC as ISO 8601); tables hold what is compact.
A migration once released is never edited; a change of the tables is a new migration and a new FORMAT.
"""

import sqlite3
from typing import Any

from holdctl.record import chain

APPLICATION_ID = 0x484F4C44  # "HOLD" at byte 68 of the file
FORMAT = 4  # user_version

_TABLES = """
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
CREATE TABLE events (
  seq INTEGER PRIMARY KEY, hold INTEGER NOT NULL REFERENCES holds(id),
  hold_ms INTEGER NOT NULL, host_ms INTEGER NOT NULL, utc_ms INTEGER NOT NULL,
  source TEXT NOT NULL CHECK (source IN ('in', 'out')), kind TEXT NOT NULL, name TEXT NOT NULL,
  text TEXT NOT NULL,
  detail TEXT NOT NULL CHECK (json_valid(detail))
) STRICT;
CREATE INDEX events_of_hold ON events (hold, seq);
CREATE INDEX events_trips ON events (seq) WHERE kind IN ('trip', 'reset');
CREATE TABLE requests (
  seq INTEGER PRIMARY KEY, hold INTEGER REFERENCES holds(id), filed_utc_ms INTEGER NOT NULL,
  placed_utc_ms INTEGER, kind TEXT, by TEXT, subject TEXT,
  outcome TEXT NOT NULL CHECK (outcome IN ('accepted', 'expired', 'refused')), reason TEXT NOT NULL,
  raw TEXT NOT NULL
) STRICT;
"""

_VIEWS = """
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
"""


# Deviations of the estimates, all in one column (see codec): four columns would cost three bytes a row more.
_DEVIATIONS = """
ALTER TABLE samples ADD COLUMN sds INTEGER;
DROP VIEW samples_c;
"""
_VIEWED_DEVIATIONS = " AS mean_c,\n" + "".join(
    f"  nullif(s.sds >> 1 + {k} * (7 + 4 * (s.sds & 1)) & (1 << 7 + 4 * (s.sds & 1)) - 1, 0) / 100.0 AS {name},\n"
    for k, name in enumerate(("wall_sd_k", "coldest_sd_k", "hottest_sd_k", "mean_sd_k"))
)


_CHAIN = """
CREATE TABLE chain (
  batch INTEGER PRIMARY KEY, last_seq INTEGER NOT NULL, rows INTEGER NOT NULL,
  began INTEGER, anchored INTEGER, ended INTEGER, note TEXT, hash BLOB NOT NULL CHECK (length(hash) = 32)
) STRICT;
"""


# The eighth phase, the last that three bits can name.
_COOLING = ("ELSE 'hot holding' END", "WHEN 6 THEN 'hot holding' ELSE 'cooling' END")


def migrate(connection: sqlite3.Connection) -> None:
    """Bring an open file to FORMAT; each migration is one transaction."""
    from sqlite_utils import Database, Migrations

    migrations = Migrations("holdctl")

    @migrations()
    def format_1(db: Any) -> None:
        for statement in _statements(_TABLES + _VIEWS):
            db.conn.execute(statement)
        db.conn.execute("PRAGMA user_version = 1")

    @migrations()
    def format_2(db: Any) -> None:
        view = _statements(_VIEWS)[0].replace(" AS mean_c,\n", _VIEWED_DEVIATIONS)
        for statement in (*_statements(_DEVIATIONS), view):
            db.conn.execute(statement)
        db.conn.execute("PRAGMA user_version = 2")

    @migrations()
    def format_3(db: Any) -> None:
        for statement in _statements(_CHAIN):
            db.conn.execute(statement)
        chain.take_over(db.conn, "taken over from an older format")
        db.conn.execute("PRAGMA user_version = 3")

    @migrations()
    def format_4(db: Any) -> None:
        view = _statements(_VIEWS)[0].replace(" AS mean_c,\n", _VIEWED_DEVIATIONS).replace(*_COOLING)
        for statement in ("DROP VIEW samples_c", view):
            db.conn.execute(statement)
        db.conn.execute("PRAGMA user_version = 4")

    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    migrations.apply(Database(connection, execute_plugins=False))


def _statements(script: str) -> list[str]:
    # executescript() would commit the migration's transaction
    return [part for part in script.split(";\n") if part.strip()]
