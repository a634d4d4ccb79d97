"""A chosen run on the winder: running order, jumbos, clock, and the figures of its plan."""
