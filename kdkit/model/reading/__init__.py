"""Plain data read as a ``Product``, or what keeps it from being one, in plain words.

What cannot be read is left out, with its names and places known, so that the rest is still
looked through.

An open question is a value, not a comment. It has a place that ``check`` can point at, and
cannot be forgotten: nothing is built before it is answered.
"""
