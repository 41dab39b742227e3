"""How work is kept and spread: the cache of finished pieces, processes, a cluster."""
