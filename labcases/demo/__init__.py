"""An invented lab: people, makers and cases that never were, made through the same actions as real ones."""
