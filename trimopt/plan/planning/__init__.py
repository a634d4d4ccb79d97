"""How a plan is made: the request, the runs, the shift, and what each run winds."""
