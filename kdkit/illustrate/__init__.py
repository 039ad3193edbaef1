"""Row: illustrate."""
