"""labcheck: a checklist and timing logger for transcatheter leaflet modification.

It records and prompts; it gives no advice. Local protocol and the licensed physician decide.
"""

__version__ = "0.1.0"
