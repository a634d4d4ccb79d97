"""What a terminal shows: tables, characters and progress."""
