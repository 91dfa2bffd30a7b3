"""The library: shapes, where they came from, who settled them."""
