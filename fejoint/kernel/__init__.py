"""The finite-element kernel: elements, plasticity, contact and stepping. It knows no joints."""
