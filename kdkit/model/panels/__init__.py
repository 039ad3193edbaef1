"""What is said of panels and bought parts, as slabs in product coordinates. Lengths in mm."""
