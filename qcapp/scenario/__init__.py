"""An invented yard: people, batches and what goes wrong there, played through as real records."""
