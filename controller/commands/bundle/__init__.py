"""What goes into a support bundle, and what is left out of it."""
