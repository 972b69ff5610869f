"""One file for each command. Each has ``run(chosen) -> int``, and imports what it needs when it is chosen."""
