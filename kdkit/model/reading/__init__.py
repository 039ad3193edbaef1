"""Plain data read as a ``Product``, or what keeps it from being one, in plain words.

What cannot be read is left out, with its names and places known, so that the rest is still
looked through.
"""
