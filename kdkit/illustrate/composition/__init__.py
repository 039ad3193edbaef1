"""A step's figure composed for the room that its page gives it.

Takes drawings of which only the size is open, and what belongs to them in fixed sizes; seeks
the largest scale at which everything finds a place.
"""
