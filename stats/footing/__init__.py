"""From a reading on a rig to a like-for-like quantity, every step kept.

`units` reads what people type; `reading` turns an instrument's reading into a force or a moment; `loading`
carries the force to the joint; `section` gives the bonded area and the member's section; `wood` and `adjust`
give the solid wood it is measured against; `ladder` climbs from one to the other; `comparability` says which
results may then be set side by side.
"""
