"""Measured pulls beside the prediction: before, during and after a day at the rig."""
