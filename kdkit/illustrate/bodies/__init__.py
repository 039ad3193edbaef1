"""Parts and hardware as bodies to draw: planar faces, edges and marks, in mm.

Takes parts with what is worked in them, and items of the catalogue; gives bodies in the
product frame. Nothing here knows from where they are looked at.
"""
