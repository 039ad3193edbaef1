"""Formulas with their numbers: parameters, and quantities that formulas name."""
