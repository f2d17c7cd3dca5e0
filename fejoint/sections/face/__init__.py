"""The section in the plane of an ear: hole, pin disc, contact, and the bearing law it gives."""
