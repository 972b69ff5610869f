"""The command line."""
def run() -> None:
    """Placeholder until the commands exist."""
