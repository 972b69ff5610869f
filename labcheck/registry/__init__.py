"""What leaves: exports derived from the folded case."""
