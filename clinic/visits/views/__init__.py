"""The pages of a visit, one file a subject."""
