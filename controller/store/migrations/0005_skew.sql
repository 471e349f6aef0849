-- How a release stood to that of the first camera in the same slot: worked out, not kept.

DROP VIEW frame_log;

CREATE VIEW frame_log AS
SELECT
  f.id, s.id AS shoot, f.seq, c.name AS camera, f.due_utc, f.released_utc, f.late_ms, f.interval_s, f.shutter_s,
  f.aperture, f.iso, f.exposure_ev, f.scene_ev, f.target_ev, f.sun_altitude_deg, f.sun_azimuth_deg,
  f.moon_altitude_deg, f.state, f.camera_file, f.local_file, f.bytes,
  CASE WHEN f.sha256 IS NOT NULL THEN lower(hex(f.sha256)) END AS sha256,
  f.cause, f.gap_s, f.clipped, f.black, f.companion_file, f.preview,
  round(f.late_ms - (
    SELECT o.late_ms FROM frames AS o JOIN cameras AS oc ON oc.key = o.camera
    WHERE o.shoot = f.shoot AND o.seq = f.seq AND oc.name < c.name ORDER BY oc.name LIMIT 1
  ), 3) AS skew_ms
FROM frames AS f JOIN shoots AS s ON s.key = f.shoot JOIN cameras AS c ON c.key = f.camera;
