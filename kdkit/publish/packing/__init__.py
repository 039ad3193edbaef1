"""What the packer gets: a picture of every layer, a check sheet, the cartons' labels, a table."""
