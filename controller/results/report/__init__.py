"""What was planned, what was got, and why anything is missing."""
