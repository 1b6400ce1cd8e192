"""The web pages over the bench: a route reads the request, asks the bench, renders."""
