"""Row: inspect."""
