"""What ``valuation serve`` itself puts on every answer, beside what the app does."""


def test_answers_name_no_program(service):
    """ASVS 14.3.3: no version, and no name that leads to one."""
    for path in ("/", "/healthz", "/static/desk.css", "/no/such/page"):
        headers = service.ask("GET", path, accept="text/html").headers
        assert "server" not in headers
        assert "x-powered-by" not in headers
