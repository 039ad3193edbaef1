"""From bodies and a view to what is seen of them, on paper.

Takes bodies and a view; gives a drawing, in which every visible piece of surface and every
visible line stands once. What a body is or does is not asked.
"""
