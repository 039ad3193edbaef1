"""Row: geometry."""
