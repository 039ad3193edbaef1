"""What a step's picture shows: parts and hardware there, how far apart, seen from where.

Takes the plan and the joinery; gives plates, each a set of bodies with their guide lines in
one view. Everything is settled but the size on paper.
"""
