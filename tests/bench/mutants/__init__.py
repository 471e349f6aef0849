"""Whether the tests notice small faults in what decides; see `__main__`."""
