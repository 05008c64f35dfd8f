"""Request and answer models of the JSON service, apart from the library's own types."""
