"""Pictures of a product without a plan: what holds what, and where an order fails."""
