-- A hold that ends by itself: how long it was to be, and when it ends. A start of the rig takes both up; by the first it
-- waits no longer than was asked for, even where its clock came up behind. NULL: not held, or until somebody resumes.

ALTER TABLE shoots ADD COLUMN hold_s REAL;
ALTER TABLE shoots ADD COLUMN held_until_utc REAL;
