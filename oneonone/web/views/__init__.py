"""Views: access line, form, service, answer. GET never writes."""
