"""Schema: what each column means, the default vintage-vehicle schema, and vehicles checked against it."""
