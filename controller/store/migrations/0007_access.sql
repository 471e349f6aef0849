-- Who may reach the rig over the network. Of a secret only its SHA-256 is kept.

CREATE TABLE sessions (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL,
  rights TEXT NOT NULL,
  secret BLOB NOT NULL UNIQUE CHECK (length(secret) = 32),
  created_utc REAL NOT NULL,
  seen_utc REAL
) STRICT;
