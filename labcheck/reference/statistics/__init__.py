"""Statistics for small series, standard library only.

`gates` says what may be shown at which n and is what screens and pages call; the other modules are the
formulae.
"""
