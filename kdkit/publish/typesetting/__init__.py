"""HTML set as PDF, or made a page for the screen; what libraries say about it as problems.

The one place that knows the page engine. What stands on the pages is not known here.
"""
