-- Copies of fetched frames in second places, and what was deleted once they were there. A row of `copies` is an order
-- until it is verified; it is made by the transaction in which a frame becomes fetched, whoever runs it.

-- Of a pair's second name only the ending is kept where it is the first one's otherwise: its checksum takes the room.

ALTER TABLE frames ADD COLUMN companion_sha256 BLOB CHECK (companion_sha256 IS NULL OR length(companion_sha256) = 32);
ALTER TABLE frames ADD COLUMN rig_freed_utc REAL;
ALTER TABLE frames ADD COLUMN card_freed_utc REAL;

-- A place is its name and where it is: a name that comes to stand for something else is another place.
CREATE TABLE places (
  key INTEGER PRIMARY KEY,
  name TEXT NOT NULL,
  target TEXT NOT NULL,
  active INTEGER NOT NULL,
  UNIQUE (name, target)
) STRICT;

CREATE TABLE copies (
  frame INTEGER NOT NULL REFERENCES frames (id) ON DELETE CASCADE,
  place INTEGER NOT NULL REFERENCES places (key),
  verified_utc REAL,
  stuck TEXT, -- why this frame cannot be copied, where the place is not to blame
  PRIMARY KEY (frame, place)
) STRICT, WITHOUT ROWID;

CREATE INDEX copies_waiting ON copies (place, frame) WHERE verified_utc IS NULL;

CREATE TRIGGER frame_fetched AFTER UPDATE OF state ON frames WHEN new.state = 'fetched' AND old.state <> 'fetched' BEGIN
  INSERT OR IGNORE INTO copies (frame, place) SELECT new.id, key FROM places WHERE active;
END;

CREATE TRIGGER frame_added_fetched AFTER INSERT ON frames WHEN new.state = 'fetched' BEGIN
  INSERT OR IGNORE INTO copies (frame, place) SELECT new.id, key FROM places WHERE active;
END;

DROP VIEW frame_log;

CREATE VIEW frame_log AS
SELECT
  f.id, s.id AS shoot, f.seq, c.name AS camera, f.due_utc, f.released_utc, f.late_ms, f.interval_s, f.shutter_s,
  f.aperture, f.iso, f.exposure_ev, f.scene_ev, f.target_ev, f.sun_altitude_deg, f.sun_azimuth_deg,
  f.moon_altitude_deg, f.state, f.camera_file, f.local_file, f.bytes,
  CASE WHEN f.sha256 IS NOT NULL THEN lower(hex(f.sha256)) END AS sha256,
  f.cause, f.gap_s, f.clipped, f.black,
  CASE
    WHEN instr(f.companion_file, '/') = 0 THEN rtrim(f.camera_file, replace(f.camera_file, '.', '')) || f.companion_file
    ELSE f.companion_file
  END AS companion_file,
  f.preview,
  round(f.late_ms - (
    SELECT o.late_ms FROM frames AS o JOIN cameras AS oc ON oc.key = o.camera
    WHERE o.shoot = f.shoot AND o.seq = f.seq AND oc.name < c.name ORDER BY oc.name LIMIT 1
  ), 3) AS skew_ms,
  CASE WHEN f.companion_sha256 IS NOT NULL THEN lower(hex(f.companion_sha256)) END AS companion_sha256,
  (
    SELECT group_concat(p.name, ' ') FROM copies AS y JOIN places AS p ON p.key = y.place
    WHERE y.frame = f.id AND y.verified_utc IS NOT NULL
  ) AS copies,
  f.rig_freed_utc, f.card_freed_utc
FROM frames AS f JOIN shoots AS s ON s.key = f.shoot JOIN cameras AS c ON c.key = f.camera;
