"""What is run by hand: the command line, and the writers of contract and reference."""
