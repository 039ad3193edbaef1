"""The manual: what its steps say, what else stands in it, and how its pages are shared out."""
