"""The zones of the running case, one file each: pure functions from a view and a size to drawn lines."""
