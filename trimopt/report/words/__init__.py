"""Every sentence that a crew, a scheduler or a salesperson reads."""
