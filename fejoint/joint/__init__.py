"""What a case says: parts, limits, and the file they are read from and written to."""
