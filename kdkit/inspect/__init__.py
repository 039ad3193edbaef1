"""Row 7: every check that needs no order of assembly.

Takes the product as it is placed and drilled, gives problems only. Each check is one
function in the module of its subject; ``CHECKS`` lists them all, ``RISKS`` those that
look for what people may get wrong with a product that is in order, ``HOLDING`` whether it
stays together when it is finished.
"""

from kdkit.inspect.checks import (
    CHECKS,
    HOLDING,
    RISKS,
    inspect_holding,
    inspect_product,
    inspect_risks,
)

__all__ = [
    "CHECKS",
    "HOLDING",
    "RISKS",
    "inspect_holding",
    "inspect_product",
    "inspect_risks",
]
