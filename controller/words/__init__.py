"""The words that every part shares: times, stops, errors, clocks, documents. Imports nothing of the project."""
