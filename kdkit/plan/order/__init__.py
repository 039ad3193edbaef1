"""Who arrives when: the order of arrivals as values, before it becomes work to do.

Promises a ``Build``, whose builds inside builds are units and what is packed as one
(``units``, ``packing``), with loose parts last (``loose``). The author's order is kept, or
refused with the nearest that works (``judge``, ``nearest``). Also how many orders there
are (``count``), and which look right and end stuck (``dead_ends``).
"""
