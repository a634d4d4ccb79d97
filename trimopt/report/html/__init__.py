"""The pages of a plan and of an answer."""
