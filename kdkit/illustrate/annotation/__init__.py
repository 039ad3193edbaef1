"""What is set over and beside a drawing: letters, arrows, glue, rings, details, insets.

Takes plates and their drawings; gives primitives with the sizes they need. Where on the
figure they lie is left to ``composition``.
"""
