"""The light rule beside others on the same scenes; `python -m tests.bench.follow` prints the table."""
