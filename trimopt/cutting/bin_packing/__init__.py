"""Fewest sets of one class: where the loss is so much a set and nothing else is to choose."""
