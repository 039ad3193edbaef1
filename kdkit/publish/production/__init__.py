"""What a production run is made from: needs, parts, picking sheets, sheets of board, labels."""
