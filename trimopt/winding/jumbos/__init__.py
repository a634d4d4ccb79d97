"""Along the web: sets on jumbos, their last metres, butts, the clock, bounds on metres."""
