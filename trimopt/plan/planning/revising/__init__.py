"""A plan that a person edited, rebuilt as it was edited: what does not hold, and what it does."""
