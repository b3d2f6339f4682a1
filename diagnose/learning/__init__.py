"""What a shop's own closed calls say of the numbers in the trees, and of the shop."""
