"""Published arithmetic. Pure functions; every formula names its source."""
