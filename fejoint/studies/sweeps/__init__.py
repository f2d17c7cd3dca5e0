"""Many joints: sweeps, maps, sensitivities, advice and tolerance bands."""
