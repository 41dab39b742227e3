"""What a claim leaves unsaid: its day, other starts, remedies, a road test."""
