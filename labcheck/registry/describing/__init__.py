"""What the data dictionary says beside its tables: how to read them, every word of a fixed list, every code."""
