"""The linear program over patterns: master, column generation, pricing, and what prices prove."""
