"""What the program says to people, each phrase once, for every surface."""
