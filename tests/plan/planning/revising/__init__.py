"""Plans that a person edited."""
