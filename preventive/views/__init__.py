"""The pages of prevention."""
