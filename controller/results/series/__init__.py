"""From months of frames to those that a film of them shows: one a day with the sun in one place, or the best."""
