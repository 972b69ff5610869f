"""What opens when it is asked for: one file a panel. Nothing here mounts by itself.

A panel takes the place of the steps, the figures and the tail; stage, clock and keys stay in sight.
"""
