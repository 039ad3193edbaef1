"""The steps as solids that move, for a reader who turns them: the same bodies, places and
ways as the drawings, as data."""
