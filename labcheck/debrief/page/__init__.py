"""The debrief as one self-contained HTML page: no script, nothing loaded from anywhere, ready for the printer."""
