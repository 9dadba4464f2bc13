"""What the numbers are for: a piece of one's own, and the next test.

`demand` says what a piece asks of its worst joint; `limit` and `capacity` what a joint of the book gives in another
shop, at the piece's sizes; `margin` sets one against the other and says what would raise it most. `assembly` bounds
what several joints hold together, `movement` follows the seasons, `leverage` the length of a member. `next_study`,
`plan` and `rig` plan a test. Nothing here certifies a piece: see `caution`.
"""
