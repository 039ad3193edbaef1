"""What moves, and what it meets when it is moved straight on.

Promises geometry alone: ``bodies`` (parts less grooves, hardware that sticks out),
``directions`` in which they are tried, ``sweep`` and ``collisions`` of all of them, and
whether a hand in between has a ``way_out``. Nothing here knows of orders or costs.
"""
