"""A simulated camera: a program of its own that speaks PTP over TCP (ISO 15740, CIPA DC-005) and draws what it sees."""
