"""Row 7: every check that needs no order of assembly.

Takes the product as it is placed and drilled, gives problems only. Each check is one
function in the module of its subject; ``CHECKS`` lists them all.
"""

from kdkit.inspect.checks import CHECKS, inspect_product

__all__ = ["CHECKS", "inspect_product"]
