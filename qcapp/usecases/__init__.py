"""One action of one person across store, sync, reports and documents."""
