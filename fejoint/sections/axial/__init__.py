"""The section along the pin: a round bar on the bearing laws of ears and shank."""
