"""Pictures as arrays: local differences, fields, evenness, transforms."""
