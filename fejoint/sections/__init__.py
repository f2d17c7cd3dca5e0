"""Plane sections of a joint: geometry and boundary conditions posed to the kernel."""
