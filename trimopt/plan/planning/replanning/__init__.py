"""A plan that was run in part, planned again from where the winder stands."""
