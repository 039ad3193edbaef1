"""Who arrives when: the order of arrivals as values, before it becomes work to do.

Promises a ``Build``, whose builds inside builds are units and what is packed as one
(``units``, ``packing``), with loose parts last (``loose``). The author's order is kept, or
refused with the nearest that works (``judge``, ``nearest``). Also how many orders there
are (``count``), and which look right and end stuck (``dead_ends``).

Adjustable shelves are loose parts. They are carried by fixtures and laid in last, so they
need no joint and block nobody.

Doors are hung last of all, after what they shut in. In the model they are shut; the planner
takes them off first, so that shelves, and handles on them, come before.
"""
