"""The user guide: Markdown files served as pages."""
