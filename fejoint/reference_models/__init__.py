"""Textbook bodies solved by the same kernel: open hole, ring, bar, round bar."""
