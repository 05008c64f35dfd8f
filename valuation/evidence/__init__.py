"""Evidence: why a number is what it is, and how far past numbers can be trusted."""
