"""Numbers only: footings, inference, practice and charts, with no web framework and no input or output.

`stats.footing` takes a reading from a rig to a like-for-like quantity; `stats.inference` says what a set of
such quantities shows and how surely. Neither knows the other. Everything works on arrays and frames.
"""
