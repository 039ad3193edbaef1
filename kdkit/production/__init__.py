"""A production run: several products, variants and quantities, made in one go.

``said`` and ``reading`` take the run's file and its list of stock; ``needs`` adds up what the
products need. A number in it is the sum over the products, or it is worked out here alone.
"""
