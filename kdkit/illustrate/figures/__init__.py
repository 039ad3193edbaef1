"""The figures of a product: cover, parts, hardware at true size, steps, the product apart.

In two goes, since the pages are shared out between them: what each shows and which heights
it can use, then each composed for its room.
"""
