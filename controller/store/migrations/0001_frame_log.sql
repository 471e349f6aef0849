-- Plans kept on the rig, shoots with the exact plan that they run, and every frame.

CREATE TABLE plans (
  name TEXT PRIMARY KEY,
  document TEXT NOT NULL,
  sha256 TEXT NOT NULL
) STRICT;

CREATE TABLE shoots (
  key INTEGER PRIMARY KEY,
  id TEXT NOT NULL UNIQUE,
  plan_name TEXT NOT NULL,
  plan TEXT NOT NULL,
  state TEXT NOT NULL,
  cause TEXT,
  created_utc REAL NOT NULL,
  started_utc REAL,
  ended_utc REAL,
  start_utc REAL,
  stop_utc REAL,
  adjust TEXT NOT NULL
) STRICT;

CREATE TABLE cameras (
  key INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE
) STRICT;

-- Shoot and camera by number, the checksum as bytes: a frame stays below 400 bytes.
CREATE TABLE frames (
  id INTEGER PRIMARY KEY,
  shoot INTEGER NOT NULL REFERENCES shoots (key),
  seq INTEGER NOT NULL,
  camera INTEGER NOT NULL REFERENCES cameras (key),
  due_utc REAL NOT NULL,
  released_utc REAL,
  late_ms REAL,
  interval_s REAL NOT NULL,
  shutter_s REAL,
  aperture REAL,
  iso REAL,
  exposure_ev REAL,
  scene_ev REAL,
  target_ev REAL,
  sun_altitude_deg REAL,
  sun_azimuth_deg REAL,
  moon_altitude_deg REAL,
  state TEXT NOT NULL,
  camera_file TEXT,
  local_file TEXT,
  bytes INTEGER,
  sha256 BLOB CHECK (sha256 IS NULL OR length(sha256) = 32),
  cause TEXT,
  gap_s REAL,
  clipped REAL,
  black REAL,
  companion_file TEXT,
  preview INTEGER NOT NULL DEFAULT 0,
  UNIQUE (shoot, seq, camera)
) STRICT;

CREATE INDEX open_frames ON frames (shoot, seq) WHERE state IN ('due', 'released');

CREATE VIEW frame_log AS
SELECT
  f.id, s.id AS shoot, f.seq, c.name AS camera, f.due_utc, f.released_utc, f.late_ms, f.interval_s, f.shutter_s,
  f.aperture, f.iso, f.exposure_ev, f.scene_ev, f.target_ev, f.sun_altitude_deg, f.sun_azimuth_deg,
  f.moon_altitude_deg, f.state, f.camera_file, f.local_file, f.bytes,
  CASE WHEN f.sha256 IS NOT NULL THEN lower(hex(f.sha256)) END AS sha256,
  f.cause, f.gap_s, f.clipped, f.black, f.companion_file, f.preview
FROM frames AS f JOIN shoots AS s ON s.key = f.shoot JOIN cameras AS c ON c.key = f.camera;

-- Counts per state, kept by the transaction that changes a frame, whoever runs it.
CREATE TABLE counts (
  shoot INTEGER NOT NULL REFERENCES shoots (key),
  state TEXT NOT NULL,
  frames INTEGER NOT NULL,
  PRIMARY KEY (shoot, state)
) STRICT, WITHOUT ROWID;

CREATE TRIGGER frame_added AFTER INSERT ON frames BEGIN
  INSERT INTO counts VALUES (new.shoot, new.state, 1) ON CONFLICT DO UPDATE SET frames = frames + 1;
END;

CREATE TRIGGER frame_removed AFTER DELETE ON frames BEGIN
  UPDATE counts SET frames = frames - 1 WHERE shoot = old.shoot AND state = old.state;
END;

CREATE TRIGGER frame_moved AFTER UPDATE OF state ON frames WHEN new.state <> old.state BEGIN
  UPDATE counts SET frames = frames - 1 WHERE shoot = old.shoot AND state = old.state;
  INSERT INTO counts VALUES (new.shoot, new.state, 1) ON CONFLICT DO UPDATE SET frames = frames + 1;
END;

CREATE TABLE notes (
  id INTEGER PRIMARY KEY,
  utc REAL NOT NULL,
  shoot INTEGER REFERENCES shoots (key),
  kind TEXT NOT NULL,
  text TEXT NOT NULL,
  facts TEXT NOT NULL
) STRICT;

CREATE INDEX notes_of_shoot ON notes (shoot, id);
