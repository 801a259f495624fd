"""Pages: signing in, providers, second factors, sessions."""
