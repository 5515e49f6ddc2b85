"""Pictures as files: the only importer of matplotlib."""
