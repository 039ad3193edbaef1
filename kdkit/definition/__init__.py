"""Row: definition."""
