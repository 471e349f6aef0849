"""The calls of REST version 1, a file per subject."""
