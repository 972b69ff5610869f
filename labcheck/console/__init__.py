"""Where the case is driven: the Textual program."""
