"""A truck under a weather: its scene, its surroundings, its rests, and when one counts as held."""
