"""What nobody knows exactly, drawn, and how surely a truck holds a rest for all that."""
