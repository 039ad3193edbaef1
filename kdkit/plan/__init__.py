"""Row: plan."""
