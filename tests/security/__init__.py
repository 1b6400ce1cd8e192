"""Nobody in: hostile text, malformed requests, strangers on the network, against the real program."""
