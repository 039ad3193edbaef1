"""Which of the feasible orders is best.

Promises the order of least cost, or one with a bound on how far from the best it may be:
``facts`` of the parts, what stays where it is put (``resting``), what a maker dislikes as
``costs``, their ``bound``, and the search itself (``choosing``). What is feasible was settled
before.
"""
