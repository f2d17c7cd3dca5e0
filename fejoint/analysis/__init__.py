"""From a joint to its answer: which sections are solved, what is read off them, the verdict."""
