-- What is wrong with a slot, for those who look for it among a million that are well.
--
-- 'missed': no frame came of it. 'doubtful': released, and not as it was meant, which is any of: the row says something
-- of it in `cause` (the rig's motion, a file found on the card after a loss, a row made anew from a picture), it was
-- released more than half a second late, or of a pair only one file has come to the rig. NULL: nothing.
-- docs/frame-log.md says the same in words.

ALTER TABLE frames ADD COLUMN trouble TEXT GENERATED ALWAYS AS (
  CASE
    WHEN state IN ('missed', 'lost') THEN 'missed'
    WHEN state <> 'due' AND (cause IS NOT NULL OR late_ms > 500.0 OR (state = 'written' AND bytes IS NOT NULL))
      THEN 'doubtful'
  END
) VIRTUAL;

CREATE INDEX frames_in_trouble ON frames (shoot, trouble, seq, camera) WHERE trouble IS NOT NULL;

CREATE INDEX frames_pictured ON frames (shoot, seq, camera) WHERE preview = 1;
