"""``python -m labcheck`` is the same as ``labcheck``."""

from labcheck.cli import run

if __name__ == "__main__":
    run()
