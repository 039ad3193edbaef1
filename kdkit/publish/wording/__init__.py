"""Everything that a reader is told, in the reader's language: by key, and as safe text."""
