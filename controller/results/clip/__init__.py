"""From the frames of a shoot to a film."""
