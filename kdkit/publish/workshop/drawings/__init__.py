"""Panel drawings on sheets: frame, title block, hole table, running dimensions."""
