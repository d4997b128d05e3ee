"""Check sheets and tags to print, and sheets typed in."""
