"""Serving the pages: listening, TLS and taking turns."""
