"""Row 5: the facts of a part, each worked out here and nowhere else.

``mass``: what it weighs, as cut, banded and worked, from one rule for the density;
``volume``: what is left of it after bores, grooves and slots (``cuts``); ``size``: length,
width, area, how far it reaches (``geometry.surfaces`` has its corners and its box);
``sameness``: which parts are the same, mirror images, or the same when turned;
``postures``: which way is up; ``words``: what its sides and surfaces are called. Checks,
planner, schedules, figures and the printed matter ask here, so that all say the same.
"""
