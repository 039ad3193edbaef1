"""Row: catalogue."""
