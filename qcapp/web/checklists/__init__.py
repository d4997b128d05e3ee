"""The yard's pages of checklists: those in use, the draft of each, YAML."""
