"""What is told to people who are far away, when, and how often. Pure."""
