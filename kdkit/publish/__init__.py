"""Row: publish."""
