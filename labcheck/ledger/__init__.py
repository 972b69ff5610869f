"""Where the log is kept: the append-only store, its hash chain and the clocks."""
