"""What a person or a program reads: tables on a terminal, JSON."""
