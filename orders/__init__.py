"""The work: one folder per step, in the order an animal meets them."""
