"""How pieces are got out of what is bought: bars of timber cut to length, sheets of board.

Every answer comes with a bound that no plan can be below, worked out by another argument than
the plan itself, so that a reader sees how far from the best it may be.
"""
