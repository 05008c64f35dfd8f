"""From a table as people keep it to the first estimate, by the command line."""
