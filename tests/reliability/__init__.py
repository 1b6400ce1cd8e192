"""The running program in all that can befall it: killed, cut off, crowded, without room, damaged."""
