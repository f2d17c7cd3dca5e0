"""Closed forms from textbooks and papers, against which the finite elements are checked.

Each function names its source and how far the formula was confirmed: "from memory" is a formula
recalled and then checked numerically where the docstring says so.
"""
