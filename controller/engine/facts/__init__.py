"""What the checks look at, read from the machine and from the cameras; what cannot be read is None, never an error."""
