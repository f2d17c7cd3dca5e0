"""The reference cases, computed and set beside their published values."""
