"""Many pulls of one joint or of many: directions, used joints, pin hardness, sweeps."""
