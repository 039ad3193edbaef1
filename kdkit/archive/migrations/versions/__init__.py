"""How the tables of an archive came to be what they are, step by step."""
