"""Row: schedule."""
