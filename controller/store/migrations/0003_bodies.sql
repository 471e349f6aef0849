-- What each body was last seen to do.

CREATE TABLE bodies (
  model TEXT NOT NULL,
  serial TEXT NOT NULL,
  seen_utc REAL NOT NULL,
  files TEXT,
  frame_bytes REAL,
  basis TEXT,
  frames INTEGER,
  preview_bytes REAL,
  write_s REAL,
  free_bytes INTEGER,
  free_frames INTEGER,
  battery_percent INTEGER,
  PRIMARY KEY (model, serial)
) STRICT;
