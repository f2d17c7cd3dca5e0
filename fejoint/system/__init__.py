"""The machine: probes, libraries, shipped files, and what mends what is missing."""
