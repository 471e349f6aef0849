-- What each body's codes mean in light, by picture style; 256 numbers as a JSON array.

CREATE TABLE tone_curves (
  model TEXT NOT NULL,
  serial TEXT NOT NULL,
  style TEXT NOT NULL,
  linear TEXT NOT NULL,
  quality_ev REAL NOT NULL,
  source TEXT NOT NULL,
  learned_utc REAL NOT NULL,
  PRIMARY KEY (model, serial, style)
) STRICT;
