"""The ear in the round: what a thin end loses when it leaves its plane."""
