"""What the scheduler asks for: rules of the search, priced and answered."""
