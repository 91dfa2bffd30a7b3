"""Everything that leaves the library: one pure function per format."""
