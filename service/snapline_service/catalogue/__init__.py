"""The requirement catalogue: read from files, checked, drafted, published, exported."""
