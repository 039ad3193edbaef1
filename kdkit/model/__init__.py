"""Row: model."""
