"""The pages: each route reads the request, asks the bench and renders."""
