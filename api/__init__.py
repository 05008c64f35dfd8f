"""The service: FastAPI routes and pages over the library."""
