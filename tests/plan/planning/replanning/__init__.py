"""Plans that were run in part, planned again."""
