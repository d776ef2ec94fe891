"""Hostile calls of the public names: values, a table of calls, and what an answer must be."""
