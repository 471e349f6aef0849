-- How long bodies take: histograms that are added to from shoot to shoot, and the shortest interval that was held. The
-- slowest write of twenty, which stood here before, is outgrown.

ALTER TABLE bodies DROP COLUMN write_s;

CREATE TABLE body_times (
  model TEXT NOT NULL,
  serial TEXT NOT NULL,
  files TEXT NOT NULL,
  measure TEXT NOT NULL,
  counts TEXT NOT NULL, -- pairs of bin and count, JSON
  most REAL NOT NULL,
  PRIMARY KEY (model, serial, files, measure)
) STRICT;

CREATE TABLE body_beats (
  model TEXT NOT NULL,
  serial TEXT NOT NULL,
  files TEXT NOT NULL,
  utc REAL NOT NULL,
  exposure_s REAL NOT NULL,
  held_s REAL,
  failed_s REAL,
  cause TEXT,
  frames INTEGER NOT NULL,
  PRIMARY KEY (model, serial, files)
) STRICT;
