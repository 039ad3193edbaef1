"""From what was said to what it comes to: names checked, units opened, parts placed."""
