"""What a figure is made of, in millimetres on paper, y down.

Primitives and the figure they make up; pens, tones and fonts by name; a raster of what is
taken, free places on it, arrows; SVG. Nothing here knows of three dimensions.
"""
