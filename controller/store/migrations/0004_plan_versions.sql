-- Every version of every plan by its content, and what plans of this rig leave to it.

CREATE TABLE plan_versions (
  key INTEGER PRIMARY KEY,
  name TEXT NOT NULL REFERENCES plans (name) ON UPDATE CASCADE ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
  sha256 TEXT NOT NULL,
  document TEXT NOT NULL,
  kept_utc REAL
) STRICT;

CREATE INDEX plan_versions_by_name ON plan_versions (name, key);

INSERT INTO plan_versions (name, sha256, document) SELECT name, sha256, document FROM plans;

CREATE TABLE defaults (
  one INTEGER PRIMARY KEY CHECK (one = 1),
  document TEXT NOT NULL
) STRICT;
