"""What the bagging bench gets: labels with codes, a sheet to pick by, the bags as a table."""
