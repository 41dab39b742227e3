"""What a logged night tells of a cab and its unit: parameters, their intervals, and tests."""
