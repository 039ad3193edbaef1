"""Row: joinery."""
