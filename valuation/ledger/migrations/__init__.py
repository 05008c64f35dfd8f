"""How the database came to be, step by step; each step is a named file in ``versions`` and is never changed again."""
