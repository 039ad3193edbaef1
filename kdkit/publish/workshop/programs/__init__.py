"""Drilling programs, and what is read before one of them runs."""
