"""Many pieces of work, on one core, on all of them, or on a cluster: the same results everywhere.

`sweep.sweep` runs a function over pieces and returns the results in the order of the pieces. What
a piece is depends on the work alone, never on the number of workers, so that every result is the
same to the last bit wherever it was worked out.
"""
