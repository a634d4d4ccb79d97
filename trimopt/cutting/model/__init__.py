"""What the engine works on and answers: instances, patterns, plans of cuts, their loss."""
