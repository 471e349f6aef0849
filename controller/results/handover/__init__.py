"""A shoot handed over: how its pictures are named, and what stands beside them for whoever edits them."""
