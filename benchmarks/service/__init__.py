"""What the service costs beside a bare route, how soon it is up, and how much a page weighs."""
